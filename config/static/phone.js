// The page's side of what lies on the phone: whose page this is, and the worker that answers without signal.
"use strict";

(async () => {
  const person = document.querySelector('meta[name="person"]')?.content;
  if (!person || !self.indexedDB) return;
  await phoneStore.meet(person);
  if (navigator.serviceWorker) await navigator.serviceWorker.register("/worker.js", { scope: "/" });
})();
