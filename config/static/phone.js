// The page's side of what lies on the phone: whose page this is, the worker, the passcode's key while a page is open,
// and what the pages about it show (config/templates/phone/).
"use strict";

self.phonePage = (() => {
  const person = document.querySelector('meta[name="person"]')?.content || "";
  const worker = self.isSecureContext ? navigator.serviceWorker : undefined;
  let key = null;

  // What the worker answers; undefined where there is none.
  async function ask(what, more = {}) {
    const registration = worker && (await worker.ready);
    if (!registration?.active) return undefined;
    return new Promise((done) => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = ({ data }) => done(data);
      registration.active.postMessage({ ask: what, ...more }, [port2]);
    });
  }

  async function hold(fresh) {
    key = fresh;
    await ask("hold", { key });
  }

  // Phones and tablets keep the next days by themselves, a computer where somebody said so.
  async function isKeeping() {
    const said = await phoneStore.about.get("phone-keeping");
    return said ?? (matchMedia("(pointer: coarse)").matches || matchMedia("(display-mode: standalone)").matches);
  }

  const FRESH = 10 * 60_000;
  async function keep(anew = false) {
    if (!person || !navigator.onLine || !(await isKeeping())) return;
    const last = await phoneStore.about.get("phone-kept");
    if (!anew && last && Date.now() - Date.parse(last.at) < FRESH) return;
    await ask("keep", { anew });
  }

  async function begin() {
    if (!worker || !self.indexedDB) return;
    worker.addEventListener("message", ({ data, ports }) => {
      if (data.ask === "key") ports[0].postMessage(key);
      if (data.locked) key = null;
      if (data.kept) document.dispatchEvent(new CustomEvent("phone-kept", { detail: data.kept }));
    });
    worker.startMessages();
    const registered = await worker.getRegistration("/");
    if (!person) {
      // A sign-in that ended, or an account that was stopped: the worker asks which.
      if (registered && navigator.onLine) await ask("standing");
      return;
    }
    const another = await phoneStore.meet(person);
    await worker.register("/worker.js", { scope: "/" });
    if (another) await ask("lock");
    if (worker.controller) key = (await ask("key")) ?? null;
    await phoneStore.about.put("phone-used", new Date().toISOString());
    if (await isKeeping()) {
      await navigator.storage?.persist?.();
      if (!key && (await phonePasscode.isSet())) askForPasscode();
    }
    // Takes its time, and nothing on the page waits for it.
    keep();
  }

  // The program was closed: what is kept can't be brought up to date before its key is there again.
  function askForPasscode() {
    if (!document.body.classList.contains("day-page")) return;
    const box = document.createElement("div");
    const link = document.createElement("a");
    box.className = "notice info no-print";
    link.href = "/phone/";
    link.textContent = "Type your passcode";
    box.append(link, " to bring what this phone keeps up to date.");
    document.getElementById("main").prepend(box);
  }

  const started = begin();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") started.then(() => keep());
  });
  self.addEventListener("online", () => started.then(() => keep()));

  return { person, ask, hold, keep, isKeeping, started };
})();

// ---- a kept page says how old it is ----------------------------------------------------------------------------

(() => {
  const box = document.querySelector("[data-kept-at]");
  if (!box) return;
  const at = new Date(box.dataset.keptAt);
  const clock = new Intl.DateTimeFormat("en-US", { hour: "numeric", minute: "2-digit" });
  const day = new Intl.DateTimeFormat("en-US", { weekday: "long", month: "long", day: "numeric" });
  const said = document.createElement("p");
  const more = document.createElement("p");
  const link = document.createElement("a");
  link.href = "/phone/";
  link.textContent = "Names come with a passcode";
  if ("keptInitials" in box.dataset) more.append("Initials only. ", link, ".");
  const strong = document.createElement("strong");
  box.append(strong, said, more);

  function ago(minutes) {
    if (minutes < 1) return "just now";
    if (minutes < 60) return `${minutes} minute${minutes === 1 ? "" : "s"} ago`;
    const hours = Math.floor(minutes / 60);
    return hours < 48 ? `${hours} hour${hours === 1 ? "" : "s"} ago` : `${Math.floor(hours / 24)} days ago`;
  }

  async function say() {
    const now = Date.now() + (await phoneStore.clockOffset());
    const here = new Date(now).toDateString() === at.toDateString() ? clock.format(at) : `${clock.format(at)} on ${day.format(at)}`;
    strong.textContent = `As of ${here}, ${ago(Math.max(0, Math.floor((now - at) / 60_000)))}`;
    said.textContent = box.dataset.keptSignal === "slow"
      ? "The network is slow: this is what the phone kept."
      : navigator.onLine ? "This is what the phone kept. Load the page again to see what stands now."
        : "No signal: this is what the phone kept.";
  }
  say();
  setInterval(say, 30_000);
  for (const name of ["online", "offline"]) self.addEventListener(name, say);
})();
