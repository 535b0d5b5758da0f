// The page of what isn't sent yet: each entry with its time, to be corrected or taken back; what was refused beside
// what stands now, for a person to choose.
"use strict";

(() => {
  const queue = self.phoneQueue;
  const box = document.getElementById("entries");
  if (!box || !queue) return;
  const rows = box.querySelector("ol");
  const make = (name, values = {}, ...parts) => {
    const made = Object.assign(document.createElement(name), values);
    made.append(...parts.filter((one) => one !== null && one !== undefined));
    return made;
  };
  const button = (text, act, about, quiet = true) =>
    Object.assign(make("button", { type: "button", className: quiet ? "button-quiet" : "" }, text, make("span", { className: "visually-hidden" }, `: ${about}`)), { onclick: act });
  const clock = (iso) => new Date(iso).toLocaleString("en-US", { month: "short", day: "numeric", hour: "numeric", minute: "2-digit" });
  const HELD = {
    signal: "There is no signal. It is tried again by itself.",
    server: "The server is busy. It is tried again by itself.",
    person: "Somebody else is signed in on this phone now. Sign in as yourself: what waits here is sent then.",
  };

  // ---- corrected before it is sent ------------------------------------------------------------------------------
  const at = (body, path) => path.split(".").reduce((one, part) => one?.[part], body);
  function put(body, path, value) {
    const made = structuredClone(body);
    const parts = path.split(".");
    const last = parts.pop();
    const inside = parts.reduce((one, part) => one[part], made);
    if (value === "" || value === null) delete inside[last];
    else inside[last] = value;
    return made;
  }
  const localTime = (iso) => {
    const when = new Date(iso);
    return `${String(when.getHours()).padStart(2, "0")}:${String(when.getMinutes()).padStart(2, "0")}`;
  };

  // The moment of that day at which the clock shows this. In the night in which an hour comes twice it is the one
  // nearest to the tap.
  function nearest(iso, told) {
    const meant = new Date(iso);
    meant.setHours(...told.split(":").map(Number), 0, 0);
    const far = (one) => Math.abs(one - Date.parse(iso));
    const shown = [0, 1, -1].map((hours) => new Date(meant.getTime() + hours * 3_600_000)).filter((one) => localTime(one) === told);
    return shown.sort((a, b) => far(a) - far(b))[0] ?? meant;
  }

  const INPUT = { time: "time", clock: "time", date: "date" };
  const MODE = { whole: "numeric", decimal: "decimal" };
  // What isn't a number goes as it was typed: the server says what is wrong with it.
  const READ = { whole: (told) => (/^\d+$/.test(told) ? Number(told) : told), decimal: (told) => told.replace(",", ".") };

  function field(entry, one, number) {
    const id = `f-${entry.key}-${number}`;
    if (one.type === "absent") {
      const boxes = one.people.map((each) => {
        const tick = make("input", { type: "checkbox", value: each.line, id: `${id}-${each.line}` });
        tick.checked = at(entry.body, one.path).some((told) => told.service_line === each.line);
        return make("label", { className: "check", htmlFor: tick.id }, tick, ` Absent: ${each.who || each.line}`);
      });
      return { shown: make("div", { className: "field" }, ...boxes), read: (body) => {
        const ticked = boxes.map((label) => label.querySelector("input")).filter((tick) => tick.checked).map((tick) => Number(tick.value));
        const kept = at(body, one.path).filter((told) => ticked.includes(told.service_line));
        const fresh = ticked.filter((line) => !kept.some((told) => told.service_line === line));
        return put(body, one.path, [...kept, ...fresh.map((line) => ({ service_line: line, reason: "student_absent" }))]);
      } };
    }
    const now = one.type === "time" ? localTime(entry.at) : at(entry.body, one.path) ?? "";
    const input = one.type === "choice"
      ? make("select", { id }, ...one.choices.map(({ value, text }) => make("option", { value, selected: value === now }, text)))
      : make("input", { id, type: INPUT[one.type] ?? "text", className: one.type === "text" ? "" : "short", value: now });
    if (one.type in MODE) input.inputMode = MODE[one.type];
    const shown = make("div", { className: "field" }, make("label", { htmlFor: id }, one.label), input);
    return { shown, read: (body) => {
      const told = input.value.trim();
      if (told === String(now)) return body;
      if (one.type === "time") return told ? put(body, entry.time, nearest(entry.at, told).toISOString()) : body;
      const made = put(body, one.path, READ[one.type] && told ? READ[one.type](told) : told);
      // What was counted one by one no longer says what was typed.
      return one.drops && one.drops in made ? put(made, one.drops, "") : made;
    } };
  }

  // What an entry says of itself, once its values are these.
  function wordsOf(entry, body) {
    const said = (more) => entry.words.replace(/: [^:]*$/, `: ${more}`);
    const people = (entry.fields ?? []).find((one) => one.type === "absent")?.people;
    const absent = body.exceptions?.length;
    if (people) return said(`${people.length - absent} present${absent ? `, ${absent} absent` : ""}`);
    if (entry.kind === "happening") return said([body.minutes && `${body.minutes} minutes`, body.first_date].filter(Boolean).join(", "));
    if (entry.kind !== "data" || (body.value === entry.body.value && body.tried === entry.body.tried)) return entry.words;
    return body.tried ? `${body.value} of ${body.tried}` : String(body.value);
  }

  function editor(entry) {
    const fields = (entry.fields ?? []).filter((one) => one.type !== "time" || entry.time).map((one, number) => field(entry, one, number));
    if (!fields.length) return null;
    const form = make("form", {}, ...fields.map((one) => one.shown), make("div", { className: "actions" }, make("button", { type: "submit" }, "Keep this")));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const body = fields.reduce((told, one) => one.read(told), entry.body);
      form.parentElement.open = false; // so that the row is drawn anew
      await queue.correct(entry.key, { body, words: wordsOf(entry, body), at: entry.time ? body[entry.time] : entry.at }, true);
    });
    return make("details", {}, make("summary", {}, "Correct", make("span", { className: "visually-hidden" }, `: ${entry.words}`)), form);
  }

  // ---- refused: what stands now, and a person chooses -----------------------------------------------------------
  const LOGS = new Set(["log", "log-more"]);
  async function sessionsOf(date) {
    const found = await fetch(`/api/1/sessions-to-log/?date=${date}`, { headers: { Accept: "application/json" }, cache: "no-store" });
    return found.ok ? found.json() : [];
  }
  const mineOf = (entry, line, planned) => {
    const told = entry.body.exceptions.find((one) => one.service_line === line) ?? {};
    return { minutes: told.delivered_minutes ?? (told.reason ? 0 : planned), told };
  };
  const reasonOf = (entry, code) => (entry.fields ?? []).flatMap((one) => one.choices ?? []).find((one) => one.value === code)?.text ?? code.replaceAll("_", " ");
  const yours = (entry, mine, planned) => `${mine.minutes} of ${planned} minutes${mine.told.reason ? `, ${reasonOf(entry, mine.told.reason).toLowerCase()}` : ""}`;
  const isLogged = (one) => Boolean(one.entry && one.entry.delivered !== null);
  const standing = (one) => (isLogged(one) ? `${one.entry.delivered} of ${one.entry.planned_minutes} minutes${one.entry.reason_words ? `, ${one.entry.reason_words.toLowerCase()}` : ""}` : "not logged");

  function beside(entry, session) {
    const line = (one) => {
      const mine = mineOf(entry, one.line_id, session.minutes);
      return make("tr", {}, make("th", { scope: "row" }, one.name || one.code), make("td", {}, standing(one)), make("td", {}, yours(entry, mine, session.minutes)));
    };
    const head = make("tr", {}, ...["Student", "Stands now", "Yours"].map((text) => make("th", { scope: "col" }, text)));
    const body = make("tbody", {}, ...session.attendees.map(line));
    return make("div", { className: "table-scroll", tabIndex: 0, role: "region", ariaLabel: "What stands and yours" }, make("table", { className: "table" }, make("thead", {}, head), body));
  }

  // Whoever isn't logged yet is logged as it was tapped.
  function logTheRest(entry, session) {
    const open = new Set(session.attendees.filter((one) => !isLogged(one)).map((one) => one.line_id));
    if (!open.size) return queue.takeBack(entry.key);
    return queue.correct(entry.key, { body: { exceptions: entry.body.exceptions.filter((one) => open.has(one.service_line)) } });
  }

  // Each entry of the log that says something else gets a version that says what was tapped.
  async function mineIsRight(entry, session) {
    for (const one of session.attendees.filter(isLogged)) {
      const { minutes, told } = mineOf(entry, one.line_id, session.minutes);
      const reason = told.reason ?? "";
      if (one.entry.delivered === minutes && one.entry.reason === reason && !told.note) continue;
      const key = queue.newKey();
      const body = { expected_revision: one.entry.revision, client_id: key, delivered_minutes: minutes, reason, note: told.note ?? "" };
      await queue.add({ key, kind: "correction", url: `/api/1/log-entries/${one.entry.id}/correct/`, body, about: `correct ${one.entry.id}`, words: `${entry.words} (corrected)`, fields: [] });
    }
    await logTheRest(entry, session);
  }

  async function chooser(entry, place) {
    if (!LOGS.has(entry.kind) || !entry.date || !navigator.onLine) return;
    const all = await sessionsOf(entry.date).catch(() => []);
    const session = all.find((one) => one.uid === entry.body.session);
    if (session && entry.refusal.code === "month_closed") {
      place.append(beside(entry, session));
      return;
    }
    if (session && entry.refusal.code === "already_logged") {
      place.append(beside(entry, session));
      place.append(make("div", { className: "actions" }, button("Mine is right", () => mineIsRight(entry, session), entry.words, false), button("Keep what stands", () => logTheRest(entry, session), entry.words)));
      return;
    }
    const lines = new Set((entry.fields?.[0]?.people ?? []).map((one) => one.line));
    const open = all.filter((one) => one.uid !== entry.body.session && one.attendees.some((each) => !each.entry && (!lines.size || lines.has(each.line_id))));
    if (!open.length) return;
    const said = make("p", {}, "Sessions of that day that wait for their log:");
    const ways = open.map((one) => button(`Log it for ${one.start.slice(0, 5)}, ${one.building_name}`, () => {
      const there = new Set(one.attendees.map((each) => each.line_id));
      return queue.correct(entry.key, { body: { session: one.uid, exceptions: entry.body.exceptions.filter((each) => there.has(each.service_line)) } });
    }, entry.words));
    place.append(said, make("div", { className: "actions" }, ...ways));
  }

  function refusal(entry) {
    const { message, fields, code } = entry.refusal;
    const told = Object.values(fields ?? {}).flat().join(" ") || message || "The server refused it.";
    const first = code === "idempotency_key_used" ? "It was saved as you tapped it first, before you corrected it. Correct it where it stands." : told;
    const place = make("div", { className: "notice error" }, make("strong", {}, "Refused"), make("p", {}, first));
    if (entry.page) place.append(make("p", {}, make("a", { href: entry.page }, "What stands there now")));
    chooser(entry, place);
    return place;
  }

  function row(entry) {
    const refused = entry.state === "refused";
    const back = entry.state === "back";
    const state = back ? "being taken back" : refused ? "refused" : "not sent yet";
    const inner = make("div", {}, make("strong", {}, entry.words || "Something tapped"), " ", make("span", { className: `badge ${refused ? "bad" : "info"}` }, state),
      make("div", { className: "quiet small" }, entry.at ? `Tapped ${clock(entry.at)}` : ""), refused ? refusal(entry) : null, back || entry.refusal?.code === "unreadable" ? null : editor(entry));
    const acts = make("div", { className: "actions" });
    if (refused) acts.append(button("Send again", () => queue.again(entry.key), entry.words));
    if (!back) acts.append(button(refused ? "Let it go" : "Take back", () => queue.takeBack(entry.key), entry.words));
    const made = make("li", {}, inner, acts);
    made.dataset.key = entry.key;
    return made;
  }

  async function draw() {
    const all = await queue.list();
    // What somebody is correcting stays as it is.
    if (rows.querySelector("details[open]") && all.length === rows.children.length) return;
    rows.replaceChildren(...all.map(row));
    box.querySelector("[data-empty]").hidden = all.length > 0;
    box.querySelector("[data-send]").hidden = !all.length;
    const held = box.querySelector("[data-held]");
    held.replaceChildren();
    if (queue.held() === "sign-in") held.append("You are signed out. What waits here stays; ", make("a", { href: "/sign-in/?next=/unsent/" }, "sign in"), " to send it.");
    else held.append(HELD[queue.held()] ?? "");
    held.hidden = !all.length || !held.textContent;
  }

  box.querySelector("[data-send]").onclick = () => queue.flush();
  for (const kind of ["changed", "taken", "refused", "sent"]) queue.events.addEventListener(kind, queue.soon(draw));
  if (queue.usable) queue.ready.then(draw);
})();
