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
    if (!person || !navigator.onLine || !(await isKeeping())) return undefined;
    const [last, changed] = [await phoneStore.about.get("phone-kept"), await phoneStore.about.get("phone-changed")];
    const at = Date.parse(last?.at ?? 0);
    if (!anew && Date.now() - at < FRESH && at > (changed ?? 0)) return undefined;
    const said = await ask("keep", { anew });
    if (said?.failed === NO_ROOM) noteNoRoom();
    return said;
  }

  const NO_ROOM = "QuotaExceededError";
  function noteNoRoom() {
    note("warning", "This phone has no room left: not everything of the next days is kept. What you tap may not be kept either.");
  }

  const NO_PROGRAM = "This phone has no room left for the program itself, so nothing opens here without a signal. Make room on the phone, then load this page again.";
  let said = false;
  function noteNoProgram() {
    if (said) return;
    said = true;
    note("warning", NO_PROGRAM);
    document.dispatchEvent(new CustomEvent("phone-no-program", { detail: NO_PROGRAM }));
  }

  async function begin() {
    if (!worker || !self.indexedDB) return;
    worker.addEventListener("message", ({ data, ports }) => {
      if (data.ask === "key") ports[0].postMessage(key);
      if (data.locked) key = null;
      if (data.noProgram === NO_ROOM) noteNoProgram();
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
    if (another) {
      forgetRunning();
      await ask("lock");
    }
    if (worker.controller) key = (await ask("key")) ?? null;
    if (await isKeeping()) {
      await navigator.storage?.persist?.();
      if (!key && (await phonePasscode.isSet())) askForPasscode();
    }
    await warnUnused();
    // Takes its time, and nothing on the page waits for it.
    keep();
  }

  // What running hours left for a page that is loaded again (schedule/class-hour.js).
  function forgetRunning() {
    for (const name of Object.keys(localStorage)) if (name.startsWith("class-hour ")) localStorage.removeItem(name);
  }

  // At the top of Today, where it is seen each day.
  function note(level, ...words) {
    if (!document.body.classList.contains("day-page")) return;
    const box = document.createElement("div");
    box.className = `notice ${level} no-print`;
    box.append(...words);
    document.getElementById("main").prepend(box);
  }

  function phoneLink(words) {
    const link = document.createElement("a");
    link.href = "/phone/";
    link.textContent = words;
    return link;
  }

  // The program was closed: what is kept can't be brought up to date before its key is there again.
  function askForPasscode() {
    note("info", phoneLink("Type your passcode"), " to bring what this phone keeps up to date.");
  }

  // Where the browser doesn't promise to keep the store, some clear it after seven days unused.
  const UNUSED = 7, NEARLY = 5, DAY = 86_400_000;
  async function warnUnused() {
    const before = Date.parse((await phoneStore.about.get("phone-used")) ?? new Date().toISOString());
    await phoneStore.about.put("phone-used", new Date().toISOString());
    if (await navigator.storage?.persisted?.()) return;
    const [count, days] = [await phoneStore.queue.count(), Math.floor((Date.now() - before) / DAY)];
    const until = new Intl.DateTimeFormat("en-US", { weekday: "long", month: "long", day: "numeric" }).format(Date.now() + UNUSED * DAY);
    const home = "Put the program on the home screen: there it stays.";
    if (count) note("warning", `${count} not sent yet. This browser may clear them if it isn’t opened by ${until}. ${home}`);
    else if (days >= NEARLY && (await isKeeping())) {
      note("warning", `You were last here ${days} days ago. After ${UNUSED} days unused this browser may clear what is kept. ${home}`);
    }
  }

  // Signing out leaves nothing in sight; what isn't sent waits for its person, who must know.
  async function leave(form) {
    const count = await phoneStore.queue.count().catch(() => 0);
    const words = `${count} not sent yet. They stay on this phone, out of sight, and are sent when you sign in here again. Sign out?`;
    if (count && !confirm(words)) return;
    forgetRunning();
    form.submit();
  }
  for (const form of document.querySelectorAll('form[action$="/sign-out/"]')) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      leave(form);
    });
  }

  // Without room nothing can be written down, not even when the program was used last: that is said, and all else goes on.
  const started = begin().catch((error) => {
    if (error.name !== NO_ROOM) throw error;
    noteNoRoom();
  });
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
  // What this page shows comes from the phone as it is now, and names nobody: neither its age nor initials matter.
  if (document.getElementById("entries")) return void box.remove();
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
