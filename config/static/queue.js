// What was tapped and isn't sent yet. An entry is kept on the phone first and sent then; it goes only when the
// server said that it has it. docs/offline.md says what an entry is; the server takes each key once.
"use strict";

(() => {
  const LOCK = "minutes-miles-queue";
  const SIGNED_OUT = new Set(["not_authenticated", "authentication_failed", "password_to_change", "second_factor_needed"]);
  const person = document.querySelector('meta[name="person"]')?.content ?? "";
  const usable = Boolean(person && self.indexedDB && self.phoneStore && self.fetch);
  // Without room nothing can be written down. What is there can be sent all the same, and makes room.
  const withoutRoom = (error) => {
    if (error.name !== "QuotaExceededError") throw error;
  };
  const meetAt = (...times) => phoneStore.clockMet(...times).catch(withoutRoom);

  // A phone without room may not even note whose it is now: then nothing can be kept, and forms are sent as ever.
  let full = null;
  const ready = usable ? phoneStore.meet(person).catch((error) => {
    if (error.name !== "QuotaExceededError") throw error;
    full = error;
  }) : Promise.resolve();
  const others = self.BroadcastChannel ? new BroadcastChannel(LOCK) : null;
  const events = new EventTarget();
  const SECONDS = 20_000;
  // More than a few go together, in one request: so many at most, and so many characters before they are packed.
  const FEW = 3, MOST = 100, LONGEST = 60_000;
  // What is longer goes packed (RFC 9110, section 8.4), for a thin line.
  const PACKED = 2000;
  const TOGETHER = "/api/1/sendings/";
  let held = ""; // why the last sending stopped: "", "signal", "server", "sign-in", "person"

  const newKey = () => {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };

  // The token against forgery lies in a cookie of ours: a page from the store holds one of another sign-in.
  const token = () => /(?:^|; )(?:__Host-)?csrftoken=([^;]+)/.exec(document.cookie)?.[1] ?? "";

  const tell = (kind, ...details) => {
    for (const detail of details) events.dispatchEvent(new CustomEvent(kind, { detail }));
    if (details.length) others?.postMessage(kind);
  };
  // What shows the queue is drawn once, however many entries change at a time.
  const soon = (act) => {
    let due = false;
    return () => {
      if (due) return;
      due = true;
      setTimeout(() => { due = false; act(); });
    };
  };
  others?.addEventListener("message", (told) => events.dispatchEvent(new CustomEvent(told.data, { detail: null })));

  // Whether the server itself answers; how far the phone's clock is off comes with it.
  async function reach() {
    const asked = Date.now();
    try {
      const answer = await fetch("/health/", { cache: "no-store", signal: AbortSignal.timeout(4000) });
      if ((await answer.text()).trim() !== "ok") return false;
      await meetAt(answer.headers.get("Date"), asked, Date.now());
      return true;
    } catch {
      return false; // no signal: what was known last of the clock holds
    }
  }

  // Asked before the first tap, and again when that was ten minutes ago.
  async function meetClock() {
    const known = await phoneStore.about.get("clock");
    if (!known || Math.abs(Date.now() - known.met) > 600_000) await reach();
  }
  const clock = usable ? ready.then(meetClock) : ready;

  // {key, kind, url, body, time, about, words, ...}: `time` names the field of the body that says when it was
  // tapped, `tapped` is the phone's clock then, `after` names keys that must be sent before. Returns the entry.
  async function add(entry) {
    await ready;
    if (full) throw full;
    if ((await phoneStore.who()) !== person) throw new Error("Somebody else has signed in on this phone. Load the page again.");
    if (!(await phoneStore.about.get("clock"))) await clock;
    const offset = await phoneStore.clockOffset();
    const tapped = entry.tapped ?? Date.now();
    // A clock that was put right between two taps doesn't turn a drive around.
    const hangs = entry.after?.length ? await list() : [];
    const before = hangs.filter((one) => entry.after.includes(one.key)).map((one) => Date.parse(one.at) + 1);
    const at = new Date(Math.max(tapped + offset, ...before)).toISOString();
    const body = entry.time ? { ...entry.body, [entry.time]: at } : entry.body;
    const made = { ...entry, body, state: "waiting", tapped: new Date(tapped).toISOString(), offset, at };
    await phoneStore.queue.add(made);
    tell("changed", made);
    return made;
  }

  // Entries of this page's person, in their order; those of somebody else on this phone are nobody's business here.
  async function list() {
    await ready;
    return (await phoneStore.who()) === person ? phoneStore.queue.list() : [];
  }

  // Read and written at once, whatever another tab sends meanwhile: `change` gets the entry and returns what it is
  // then, null to take it out, or nothing to leave it.
  async function edit(key, change) {
    const transaction = (await phoneStore.open()).transaction("queue", "readwrite");
    const cursor = await transaction.store.index("key").openCursor(key);
    const found = cursor ? change(cursor.value) : undefined;
    if (found === null) await cursor.delete();
    else if (found) await cursor.update(found);
    await transaction.done;
    return Boolean(cursor);
  }

  // Take an entry back, and what was tapped after it and makes no sense without it. One that was on its way when the
  // answer was lost may have been saved: the server is asked, and what it saved is undone there. Returns how many.
  async function takeBack(key) {
    const gone = new Set([key]);
    for (const one of await list()) if ((one.after ?? []).some((each) => gone.has(each))) gone.add(one.key);
    for (const each of [...gone].reverse()) {
      await edit(each, (one) => (one.attempted && one.state !== "refused" ? { ...one, state: "back", after: [] } : null));
    }
    tell("changed", null);
    flush();
    return gone.size;
  }

  // Corrected, it keeps its key: if the server has the first content after all, it says so and a person decides.
  // `whole`: the body is all of it, and what isn't in it was emptied.
  async function correct(key, values, whole = false) {
    await edit(key, (one) => ({
      ...one, ...values, body: whole ? values.body : { ...one.body, ...values.body }, state: "waiting", refusal: null, edits: (one.edits ?? 0) + 1,
    }));
    tell("changed", null);
    return flush();
  }

  // The same sending once more, such as after a month was reopened.
  async function again(key) {
    await edit(key, (one) => ({ ...one, state: "waiting", refusal: null }));
    tell("changed", null);
    return flush();
  }

  async function packed(text) {
    if (text.length < PACKED || !self.CompressionStream) return [text, {}];
    const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("gzip"));
    return [await new Response(stream).arrayBuffer(), { "Content-Encoding": "gzip" }];
  }

  const locked = (act) => (navigator.locks ? navigator.locks.request(LOCK, act) : act());

  async function post(url, body, key, more = {}) {
    const [content, how] = await packed(JSON.stringify(body));
    const asked = Date.now();
    const answer = await fetch(url, {
      method: "POST",
      credentials: "same-origin",
      cache: "no-store",
      headers: {
        "Content-Type": "application/json",
        Accept: "application/json",
        "X-CSRFToken": token(),
        "X-Person": person,
        ...(key ? { "Idempotency-Key": `"${key}"` } : {}),
        ...how,
        ...more,
      },
      body: content,
      signal: AbortSignal.timeout(SECONDS),
    });
    await meetAt(answer.headers.get("Date"), asked, Date.now());
    // A network that asks for a sign-in of its own answers with a page. That isn't our server.
    const ours = !answer.redirected && /^application\/(problem\+)?json/.test(answer.headers.get("Content-Type") ?? "");
    return { status: ours || answer.status >= 500 ? answer.status : 0, told: ours ? await answer.json() : {} };
  }

  // What an answer means: "taken", "refused", or why sending stops.
  function meaning({ status, told }) {
    if (status >= 200 && status < 300) return "taken";
    if (status === 0) return "signal";
    if (status === 401 || (status === 403 && SIGNED_OUT.has(told.code))) return "sign-in";
    if (told.code === "other_person") return "person";
    return status >= 500 || status === 429 || status === 408 ? "server" : "refused";
  }

  async function sendOne(entry) {
    if (entry.state === "back") return undo(entry);
    // Said before it goes: an answer that is lost leaves it in doubt.
    const there = await edit(entry.key, (one) => ({ ...one, attempted: true })).catch((error) => withoutRoom(error) ?? true);
    if (!there) return "taken";
    return settle(entry, entry.url, entry.body, entry.key);
  }

  // Was it saved before it was taken back? If not the key is used up, so that it never will be.
  async function undo(entry) {
    let asked;
    try {
      asked = await post("/api/1/withdrawn-keys/", { key: entry.key });
    } catch {
      return "signal";
    }
    const found = meaning(asked);
    if (found !== "taken" || !asked.told.taken || !entry.undo) return finish([{ entry, found, answer: asked }]);
    return settle(entry, entry.undo.url.replace("{id}", asked.told.id), entry.undo.body ?? {}, null);
  }

  async function settle(entry, url, body, key) {
    let answer;
    try {
      answer = await post(url, body, key);
    } catch {
      return "signal"; // no signal, or the answer was lost: it is sent again under its key
    }
    return finish([{ entry, found: meaning(answer), answer }]);
  }

  // Many at once: the server carries them out one after the other, each under its key, and answers for each.
  async function sendMany(entries, tried) {
    const going = await attempted(entries);
    if (!going.length) return "taken";
    let answer;
    try {
      const sendings = going.map(({ key, url, body, after }) => ({ key, url, body, after: (after ?? []).slice(0, MOST) }));
      answer = await post(TOGETHER, { sendings }, null, { Prefer: "return=minimal" });
    } catch {
      return "signal";
    }
    const whole = meaning(answer);
    // Nothing of it was looked at: one of them is no sending, or the server knows no more than one at a time.
    if (whole === "refused") return "apart";
    if (whole !== "taken") return whole;
    const of = new Map(going.map((one) => [one.key, one]));
    const found = [];
    for (const { key, status, body } of answer.told.answers) {
      const told = body ?? {};
      if (told.code === "not_reached") tried.delete(key); // the time was up: in the next request
      else if (told.code !== "waits") found.push({ entry: of.get(key), found: meaning({ status, told }), answer: { status, told } });
    }
    return finish(found);
  }

  // Those that are still here, as they are now.
  async function attempted(entries) {
    const transaction = (await phoneStore.open()).transaction("queue", "readwrite");
    const keys = transaction.store.index("key");
    const found = (await Promise.all(entries.map(({ key }) => keys.get(key)))).filter((one) => one?.state === "waiting");
    for (const one of found) {
      one.attempted = true;
      transaction.store.put(one).catch(withoutRoom);
    }
    await transaction.done.catch(withoutRoom);
    return found;
  }

  // What the server said of entries, in one go. Returns why sending stops, or "taken" or "refused".
  async function finish(all) {
    const transaction = (await phoneStore.open()).transaction("queue", "readwrite");
    const keys = transaction.store.index("key");
    const rows = await Promise.all(all.map(({ entry }) => keys.get(entry.key)));
    for (const [number, { entry, found, answer }] of all.entries()) {
      const one = rows[number];
      if (!one) continue;
      const same = (one.edits ?? 0) === (entry.edits ?? 0) && one.state === entry.state;
      const { code, message, fields } = answer.told;
      if (found === "taken" && same) transaction.store.delete(one.number);
      else if (found === "refused") transaction.store.put({ ...one, state: "refused", refusal: { status: answer.status, code, message, fields } });
    }
    await transaction.done;
    for (const kind of ["taken", "refused"]) {
      tell(kind, ...all.filter(({ found }) => found === kind).map(({ entry, answer }) => ({ entry, told: answer.told })));
    }
    const said = all.map(({ found }) => found);
    return said.find((found) => found !== "taken" && found !== "refused") ?? said.at(-1) ?? "taken";
  }

  // An entry that can't be read any more is refused here, in words: it must not hold up the others.
  const LOST = "This entry can’t be read any more, so it can’t be sent. Enter it again where it belongs, then let it go.";
  const isWhole = (one) => Boolean(one.key && typeof one.key === "string" && typeof one.url === "string" && one.url.startsWith("/") && one.body && typeof one.body === "object");
  async function setAside(rows) {
    const broken = rows.filter((one) => one.state !== "refused" && !isWhole(one));
    if (!broken.length) return rows;
    const transaction = (await phoneStore.open()).transaction("queue", "readwrite");
    for (const one of broken) {
      const key = one.key && typeof one.key === "string" ? one.key : newKey();
      Object.assign(one, { key, state: "refused", refusal: { status: 0, code: "unreadable", message: LOST, fields: {} } });
      transaction.store.put(one);
    }
    await transaction.done;
    tell("refused", ...broken.map((entry) => ({ entry, told: entry.refusal })));
    return rows;
  }

  // What can go next, in order: what hangs on an entry goes with it or after it. One that was taken back goes alone.
  function next(rows, tried) {
    const here = new Set(rows.map((one) => one.key));
    const going = new Map();
    let size = 0;
    for (const one of rows) {
      if (one.state === "refused" || tried.has(one.key)) continue;
      if ((one.after ?? []).some((key) => here.has(key) && !going.has(key))) continue;
      const alone = one.state === "back";
      size += JSON.stringify(one.body).length;
      if (going.size && (alone || going.size === MOST || size > LONGEST)) break;
      going.set(one.key, one);
      if (alone) break;
    }
    return [...going.values()];
  }

  // In their order, each once a round.
  async function round() {
    const tried = new Set();
    let together = true;
    held = "";
    for (;;) {
      let going = next(await setAside(await list()), tried);
      if (!going.length) break;
      if (!together || going.length <= FEW) going = going.slice(0, 1);
      for (const one of going) tried.add(one.key);
      const found = going.length > 1 ? await sendMany(going, tried) : await sendOne(going[0]);
      if (found === "apart") {
        together = false;
        for (const one of going) tried.delete(one.key);
      } else if (found !== "taken" && found !== "refused") {
        held = found;
        break;
      }
    }
    tell("sent", null);
  }

  let running = null;
  let wanted = false;
  function flush() {
    if (!usable) return Promise.resolve();
    if (running) {
      wanted = true; // what was added meanwhile goes in another round
      return running;
    }
    running = ready
      .then(async () => {
        do {
          wanted = false;
          if (await phoneStore.queue.count()) await locked(round);
        } while (wanted && !held);
      })
      .finally(() => { running = null; });
    return running;
  }

  // ---- said on every page ---------------------------------------------------------------------------------------
  const WHY = { "sign-in": ": sign in to send", person: ": sign in as yourself to send", server: ": the server is busy" };
  async function say() {
    const link = document.getElementById("unsent");
    if (!link || !usable) return;
    const rows = await list();
    const refused = rows.filter((one) => one.state === "refused").length;
    const waiting = rows.length - refused;
    const words = [];
    if (waiting) words.push(`${waiting} not sent yet${WHY[held] ?? ""}`);
    if (refused) words.push(`${refused} refused: look`);
    link.textContent = words.join(", ");
    link.hidden = !rows.length;
    link.classList.toggle("refused", refused > 0);
  }

  let timer = null;
  function later() {
    clearTimeout(timer);
    if (held !== "signal" && held !== "server") return;
    timer = setTimeout(() => document.visibilityState === "visible" && flush(), 15_000);
  }

  self.phoneQueue = { usable, ready, events, soon, newKey, add, list, takeBack, correct, again, flush, post, reach, held: () => held };
  if (!usable) return;
  for (const kind of ["changed", "taken", "refused", "sent"]) events.addEventListener(kind, soon(say));
  events.addEventListener("sent", later);
  addEventListener("online", flush);
  addEventListener("pageshow", flush);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && flush());
  ready.then(say);
  flush();
})();
