// The running view of a class hour. Everything it needs came with the page: it runs without a network.
// Times are seconds after local midnight. What was tapped is kept in the browser under the session's key, without
// any student's name, so that a page that is loaded again goes on where it was. The clock follows from the taps in the
// order of their moments; they go to the server through the queue, and those of other phones come at the next contact.
"use strict";

const MAY_FALL_OUT = 0, SHRINKS = 1;

// The rules of schedule/class_hour/fitting.py, in seconds: tests hold both against each other.
function shared(amount, weights, whole) {
  const total = weights.reduce((sum, one) => sum + one, 0);
  if (!total) return weights.map(() => 0);
  const wanted = whole ? amount : Math.min(amount, total);
  const shares = weights.map((one) => Math.floor((wanted * one) / total));
  const left = wanted - shares.reduce((sum, one) => sum + one, 0);
  weights.map((one, at) => [-((wanted * one) % total), at])
    .sort((a, b) => a[0] - b[0] || a[1] - b[1])
    .slice(0, left)
    .forEach(([, at]) => { shares[at] += 1; });
  return shares;
}

function nextOut(among, over) {
  const enough = among.filter((one) => one.least >= over);
  const better = enough.length ? (a, b) => b.least < a.least : (a, b) => b.least > a.least;
  return (enough.length ? enough : among).reduce((a, b) => (better(a, b) ? b : a));
}

function chosen(parts, wanted) {
  let least = parts.reduce((sum, one) => sum + one.least, 0);
  const gone = [];
  for (const when of [MAY_FALL_OUT, SHRINKS]) {
    const among = [...parts].reverse().filter((one) => one.short === when);
    while (least > wanted && among.length) {
      const part = nextOut(among, least - wanted);
      among.splice(among.indexOf(part), 1);
      gone.push(part);
      least -= part.least;
    }
  }
  for (const part of [...gone].reverse()) {
    if (least + part.least <= wanted) {
      gone.splice(gone.indexOf(part), 1);
      least += part.least;
    }
  }
  return parts.filter((one) => !gone.includes(one));
}

function fitParts(parts, start, end) {
  const wanted = Math.max(0, end - start);
  const kept = chosen(parts, wanted);
  const missing = kept.reduce((sum, one) => sum + one.usual, 0) - wanted;
  const change = missing > 0
    ? shared(missing, kept.map((one) => one.usual - one.least), false).map((one) => -one)
    : shared(-missing, kept.map((one) => (one.least < one.usual ? one.usual : 0)), true);
  let now = start;
  const times = kept.map((one, at) => {
    const from = now;
    now += one.usual + change[at];
    return { key: one.key, start: from, end: now };
  });
  return { times, out: parts.filter((one) => !kept.includes(one)).map((one) => one.key) };
}
window.classHourFit = fitParts;

(function run() {
  const source = document.getElementById("run-data");
  if (!source) return;
  const data = JSON.parse(source.textContent);
  const parts = data.parts.map((one) => ({
    key: one.part_id, usual: one.usual * 60, least: one.least * 60, short: one.when_short, view: one,
    first: one.start * 60, last: one.end * 60,
  }));
  const byKey = new Map(parts.map((one) => [one.key, one]));
  const kept = "class-hour " + data.key;
  const at = (id) => document.getElementById(id);
  const usual = { times: parts.map((one) => ({ key: one.key, start: one.first, end: one.last })), out: [], end: data.end * 60 };
  let offset = 0; // how many milliseconds the server's clock is ahead
  // {id, kind, part, at, here}: `at` in milliseconds by the server's clock, `here` this phone's own seconds.
  let taps = read();
  let state = { now: usual, before: [] };

  function read() {
    try {
      const found = JSON.parse(localStorage.getItem(kept))?.taps;
      return Array.isArray(found) ? found : [];
    } catch { return []; }
  }
  function keep() {
    try { localStorage.setItem(kept, JSON.stringify({ taps })); } catch { /* private browsing: the page itself goes on */ }
  }
  function secondsAt(moment) {
    const then = new Date(moment);
    return then.getHours() * 3600 + then.getMinutes() * 60 + then.getSeconds();
  }
  const clock = () => secondsAt(Date.now());
  function isToday() {
    const now = new Date();
    const two = (one) => String(one).padStart(2, "0");
    return data.date === `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  }
  // On another day it is tried out: nothing runs before it is begun by a tap.
  function runs() { return isToday() || state.before.length > 0; }
  function place(now) {
    if (!runs()) return -1;
    const { times } = state.now;
    if (!times.length || now < times[0].start) return -1;
    return times.findIndex((one) => now < one.end);
  }
  const isBefore = (now) => place(now) === -1 && (!runs() || !state.now.times.length || now < state.now.times[0].start);

  // The clock as all taps together make it.
  function replay() {
    state = { now: usual, before: [] };
    for (const one of [...taps].sort((a, b) => a.at - b.at || (a.id < b.id ? -1 : 1))) {
      const before = [...state.before];
      if (one.kind === "back") {
        if (before.length) state = { now: before.pop(), before };
        continue;
      }
      const next = step(one, one.here ?? secondsAt(one.at - offset));
      if (next) state = { now: next, before: [...before, state.now] };
    }
  }
  // What a tap makes of the plan. One that is about a part that doesn't run anymore was made on another phone already.
  function step({ kind, part }, now) {
    if (kind === "begin") return isBefore(now) ? begin(now) : null;
    const here = place(now), { times } = state.now;
    if (here === -1 || times[here].key !== part) return null;
    const end = kind === "on" ? now : times[here].end + 60;
    const done = [...times.slice(0, here), { ...times[here], end }];
    return rest(end, done, gone(done));
  }

  function meet(found) {
    const known = new Set(taps.map((one) => one.id));
    const fresh = found.filter((one) => !known.has(one.id));
    if (!fresh.length) return;
    taps.push(...fresh);
    keep();
    replay();
    draw();
  }
  // What comes after a place of the plan, again in all the minutes that are left.
  function rest(from, done, extra) {
    const past = new Set(done.map((one) => one.key));
    const later = parts.filter((one) => !past.has(one.key) && !extra.has(one.key));
    const { times, out } = fitParts(later, from, state.now.end);
    return { times: [...done, ...times], out: [...extra, ...out], end: state.now.end };
  }
  const WORDS = { begin: "Begin", on: "Go on now", longer: "1 more minute", back: "Take the last tap back" };
  function tap(kind, part = 0) {
    const queue = self.phoneQueue;
    const one = { id: queue?.newKey() ?? crypto.randomUUID(), kind, part, at: Date.now() + offset, here: clock() };
    taps.push(one);
    keep();
    replay();
    draw();
    // On another day it is only tried out.
    if (!queue?.usable || !isToday()) return;
    const title = byKey.get(part)?.view.title;
    queue.add({
      key: one.id, kind: "run", url: data.taps_url, body: { client_id: one.id, kind, part }, time: "at", about: `run ${one.id}`,
      words: `Clock: ${WORDS[kind]}${title ? `, ${title}` : ""}`, page: location.pathname + location.search, date: data.date, fields: [],
    }).then(queue.flush);
  }
  const goOn = () => {
    const now = clock(), here = place(now);
    if (isBefore(now)) tap("begin");
    else if (here !== -1) tap("on", state.now.times[here].key);
  };
  // What fell out before this moment of the routine doesn't come back behind it.
  function gone(done) {
    const last = parts.findIndex((one) => one.key === done[done.length - 1].key);
    return new Set(state.now.out.filter((key) => parts.findIndex((one) => one.key === key) < last));
  }
  const longer = () => {
    const here = place(clock());
    if (here !== -1) tap("longer", state.now.times[here].key);
  };
  function begin(now) {
    const length = (data.end - data.start) * 60;
    const end = isToday() && now > data.start * 60 && now < data.end * 60 ? data.end * 60 : now + length;
    return { ...fitParts(parts, now, end), end };
  }
  const back = () => {
    if (state.before.length) tap("back");
  };

  // What other phones of this account, or of who covers the day, tapped meanwhile.
  const asked = (one) => ({ id: one.client_id, kind: one.kind, part: one.part, at: Date.parse(one.at) });
  async function look() {
    if (!isToday() || document.visibilityState !== "visible" || !navigator.onLine) return;
    try {
      const answer = await fetch(data.taps_url, { headers: { Accept: "application/json" }, signal: AbortSignal.timeout(8000) });
      if (answer.ok && (answer.headers.get("Content-Type") ?? "").startsWith("application/json")) meet((await answer.json()).map(asked));
    } catch { /* no signal: at the next contact */ }
  }

  const clockWords = (seconds) => {
    const minutes = Math.floor(seconds / 60) % 1440;
    return `${((Math.floor(minutes / 60) + 11) % 12) + 1}:${String(minutes % 60).padStart(2, "0")}`;
  };
  const left = (seconds) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  const minutes = (seconds) => { const n = Math.max(1, Math.round(seconds / 60)); return n === 1 ? "1 minute" : `${n} minutes`; };
  function text(id, words) {
    const element = at(id);
    if (element.textContent !== words) element.textContent = words;
    element.hidden = !words;
  }

  // Data are offered on the goals that the part serves; the others are one press away. What is being taken stays.
  const offered = document.querySelector(".run-part-goals"), takings = [...document.querySelectorAll(".take-goal")];
  let showsAll = false, offeredFor;
  const isBusy = (row) => Boolean(row.querySelector("input[name=value][type=text]")?.value) || row.contains(document.activeElement);
  function offer(view) {
    const wanted = new Set(view ? view.goals.map((one) => String(one.goal_id)) : []);
    const among = takings.filter((row) => wanted.has(row.dataset.goal));
    const isNarrow = among.length > 0 && among.length < takings.length;
    offered.hidden = !isNarrow;
    for (const row of takings) row.hidden = isNarrow && !showsAll && !wanted.has(row.dataset.goal) && !isBusy(row);
    for (const card of document.querySelectorAll(".take-student")) {
      card.hidden = [...card.querySelectorAll(".take-goal")].every((row) => row.hidden);
    }
    if (!isNarrow) return;
    offered.querySelector("span").textContent = showsAll ? "All goals." : `${among.length} of ${takings.length}: what “${view.title}” serves.`;
    offered.querySelector("button").textContent = showsAll ? "Only this part’s" : "Show all goals";
  }
  if (offered) {
    offered.querySelector("button").addEventListener("click", () => { showsAll = !showsAll; offeredFor = undefined; draw(); });
  }

  let spoken = null;
  function draw() {
    const now = clock(), here = place(now), { times, out } = state.now;
    const early = isBefore(now);
    const current = here >= 0 ? times[here] : null, next = early ? times[0] : times[here + 1];
    const view = current ? byKey.get(current.key).view : null;
    document.body.classList.toggle("is-running", Boolean(current));
    text("run-part", current ? view.title : early ? "Not begun yet" : "The class hour is over");
    text("run-left", current ? left(current.end - now) : "");
    text("run-until", current ? `until ${clockWords(current.end)}` : early && runs() ? `Begins at ${clockWords(times[0].start)}` : early ? "This is another day: begin, to try it out." : "");
    text("run-cue", view && view.cue ? `Ends by: ${view.cue}` : "");
    text("run-goals", view && view.goals.length ? `Goals now: ${view.goals.map((one) => `${one.who}: ${one.text}`).join(" · ")}` : "");
    if (offered && offeredFor !== (current ? current.key : null)) {
      offeredFor = current ? current.key : null;
      offer(view);
    }
    text("run-what", view ? view.what : "");
    text("run-who", view ? [view.leads && `Leads: ${view.leads}`, view.where, view.equipment.join(", ")].filter(Boolean).join(" · ") : "");
    text("run-aides", view && view.aide_notes ? `Aides: ${view.aide_notes}` : "");
    text("run-ask", view && view.ask.length ? view.ask.join(" ") : "");
    const coming = next ? byKey.get(next.key).view : null;
    text("run-next", coming ? `Next at ${clockWords(next.start)}: ${coming.title}, ${minutes(next.end - next.start)}` : current ? "This is the last part." : "");
    text("run-set-up", coming && coming.set_up ? `Set up now${coming.set_up_by ? ` (${coming.set_up_by})` : ""}: ${coming.set_up}` : "");
    text("run-out", out.length ? `Falls out: ${out.map((key) => byKey.get(key).view.title).join(", ")}` : "");
    const bar = at("run-bar");
    bar.max = current ? Math.max(1, current.end - current.start) : 1;
    bar.value = current ? now - current.start : early ? 0 : 1;
    at("run-on").textContent = early ? "Begin now" : "Go on now";
    at("run-on").disabled = !early && !current;
    at("run-longer").disabled = !current;
    at("run-undo").disabled = !state.before.length;
    for (const row of document.querySelectorAll("[data-part]")) {
      const key = Number(row.dataset.part), time = times.find((one) => one.key === key);
      row.classList.toggle("now", Boolean(current) && key === current.key);
      row.classList.toggle("over", Boolean(time) && runs() && time.end <= now);
      row.classList.toggle("fell-out", !time);
      row.querySelector(".at").textContent = time ? `${clockWords(time.start)}–${clockWords(time.end)}` : "falls out";
      if (current && key === current.key) row.setAttribute("aria-current", "step"); else row.removeAttribute("aria-current");
    }
    // A screen reader is told each change of the part once, and not each second.
    const now_on = current ? current.key : early ? "before" : "over";
    if (spoken !== now_on) {
      at("run-told").textContent = current ? `${view.title}, until ${clockWords(current.end)}` : at("run-part").textContent;
      spoken = now_on;
    }
  }

  // The screen stays awake while the page is seen, where the browser can do that.
  let lock = null;
  async function stayAwake() {
    if (!("wakeLock" in navigator)) { text("run-awake", "This browser can’t keep the screen awake: set your phone’s screen to stay on."); return; }
    if (document.visibilityState !== "visible" || (lock && !lock.released)) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      text("run-awake", "The screen stays on.");
      lock.addEventListener("release", () => text("run-awake", ""));
    } catch { text("run-awake", "The phone didn’t let the screen stay on, perhaps to save its battery."); }
  }

  at("run-on").addEventListener("click", goOn);
  at("run-longer").addEventListener("click", longer);
  at("run-undo").addEventListener("click", back);
  document.addEventListener("visibilitychange", () => { stayAwake(); draw(); look(); });
  at("run").hidden = false;
  replay();
  draw();
  meet(data.taps);
  self.phoneStore?.clockOffset().then((found) => {
    offset = found;
    replay();
    draw();
  });
  self.phoneQueue?.events.addEventListener("taken", ({ detail }) => detail?.entry?.kind === "run" && look());
  addEventListener("online", look);
  setInterval(look, 20_000);
  stayAwake();
  setInterval(draw, 1000);
})();
