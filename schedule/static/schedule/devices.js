// The page of messages: turns messages on and off in this browser (Push API). Without it the page says that it needs
// scripts; the list of devices works without.
"use strict";

(async () => {
  const place = document.querySelector("[data-push]");
  if (!place) return;
  const show = (name) => {
    for (const one of place.querySelectorAll("[data-when]")) one.hidden = one.dataset.when !== name;
  };
  const digest = async (text) => {
    const hashed = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
    return [...new Uint8Array(hashed)].map((one) => one.toString(16).padStart(2, "0")).join("");
  };
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");

  if (!("serviceWorker" in navigator) || !("PushManager" in self) || !("Notification" in self)) return show("never");
  if (Notification.permission === "denied") return show("denied");
  const { pushManager } = await navigator.serviceWorker.ready;
  const key = place.dataset.push;

  const mark = async (subscription) => {
    const here = subscription ? await digest(subscription.endpoint) : "";
    const row = here && document.querySelector(`[data-device="${here}"]`);
    if (row) row.querySelector("[data-here]").hidden = false;
    show(row ? "on" : "off");
    for (const form of document.querySelectorAll("form[data-stops]")) {
      if (form.dataset.stops !== here) continue;
      // Turned off here: the browser forgets it as well.
      form.addEventListener("submit", () => subscription.unsubscribe());
    }
  };

  place.querySelector("[data-turn-on]").addEventListener("click", async () => {
    if ((await Notification.requestPermission()) !== "granted") return show("denied");
    try {
      const before = await pushManager.getSubscription();
      if (before && text(before.options.applicationServerKey) !== key) await before.unsubscribe();
      const made = await pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key });
      const form = place.querySelector("form");
      form.elements.endpoint.value = made.endpoint;
      form.elements.receiver_key.value = text(made.getKey("p256dh"));
      form.elements.secret.value = text(made.getKey("auth"));
      form.requestSubmit();
    } catch {
      show("failed");
    }
  });

  await mark(await pushManager.getSubscription());
})();
