// What was just done, said at the thumb for ten seconds, with the way to undo it. It stands before everything else for
// the keyboard, stays while it is pointed at or has the focus (WCAG 2.2, 2.2.1), and goes by Escape. Whatever can be
// undone here can be undone at its entry afterwards.
"use strict";

self.phoneToast = (() => {
  const STAYS = 10_000;
  const place = document.createElement("div");
  place.className = "toast-place no-print";
  place.setAttribute("role", "status");
  (document.querySelector(".skip") ?? document.body.firstChild).after(place);
  let timer = null;

  function close() {
    clearTimeout(timer);
    const focused = place.contains(document.activeElement);
    place.replaceChildren();
    if (focused) document.getElementById("main")?.focus({ preventScroll: true });
  }
  const stay = () => clearTimeout(timer);
  function count() {
    stay();
    if (!place.matches(":hover") && !place.contains(document.activeElement)) timer = setTimeout(close, STAYS);
  }

  // `undo` is what the button does; without one there is nothing to undo.
  function show(words, undo) {
    const box = document.createElement("div");
    box.className = "toast";
    box.append(Object.assign(document.createElement("p"), { id: "toast-words", textContent: words }));
    if (undo) {
      const button = Object.assign(document.createElement("button"), { type: "button", className: "toast-undo", textContent: "Undo" });
      button.setAttribute("aria-describedby", "toast-words");
      button.addEventListener("click", () => {
        close();
        undo();
      });
      box.append(button);
    }
    const away = Object.assign(document.createElement("button"), { type: "button", className: "toast-close", textContent: "×" });
    away.setAttribute("aria-label", "Close this message");
    away.addEventListener("click", close);
    box.append(away);
    place.replaceChildren(box);
    count();
  }

  for (const kind of ["pointerenter", "focusin"]) place.addEventListener(kind, stay);
  for (const kind of ["pointerleave", "focusout"]) place.addEventListener(kind, () => setTimeout(count));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && place.childElementCount && !document.querySelector(":popover-open, dialog[open]")) close();
  });
  return { show, close };
})();
