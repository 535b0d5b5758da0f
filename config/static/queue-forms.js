// Forms whose sending is taken over: what was tapped is kept on the phone and sent from there (queue.js). Without
// this script, or where the phone keeps nothing, each is a plain form. docs/offline.md lists the attributes.
"use strict";

(() => {
  const queue = self.phoneQueue;
  if (!queue?.usable) return;
  const number = (text) => (text ? Number(text) : null);
  const filled = (pairs) => Object.fromEntries(Object.entries(pairs).filter(([, value]) => value !== null && value !== ""));
  // A kept page has initials already.
  const initials = (name) => /^\p{L}\.\p{L}\./u.test(name) ? name : name.split(/[\s-]+/).filter(Boolean).map((one) => `${one[0]}.`).join(" ");
  const counted = (absent, people) => `${people.length - absent.length} present${absent.length ? `, ${absent.length} absent` : ""}`;
  const TIME = { path: "time", label: "Tapped at", type: "time" };

  // What was typed into a part of a form, to be corrected later: its label, and what kind of value it is. None where
  // it names rows, such as students, whose names don't lie on the phone.
  const ROWS = /(^|-)(teacher|space|school_class|student|buildings|kind|line)$/;
  const KIND = { date: "date", time: "clock", number: "whole", text: "text", textarea: "text", "select-one": "choice" };
  function typed(form, name, path, more = "") {
    const part = form.elements[name];
    const type = KIND[part?.type];
    if (!type || ROWS.test(name)) return null;
    const label = (part.labels?.[0]?.innerText ?? name).replace(/\s+/g, " ").trim() + more;
    const choices = type === "choice" ? [...part.options].map(({ value, text }) => ({ value, text: text.trim() })) : undefined;
    return { path, label, type: path.endsWith("minutes") ? "whole" : type, ...(choices ? { choices } : {}) };
  }

  // The same where what was typed was shown before it is saved, and stands in hidden parts.
  const HAPPENED = Object.fromEntries([
    ["first_date", "First day", "date"], ["last_date", "Last day", "date"], ["start", "From", "clock"], ["end", "To", "clock"],
    ["minutes", "Minutes", "whole"], ["grades", "Only these grades", "text"], ["note", "Note", "text"],
  ].map(([path, label, type]) => [path, { path, label, type }]));

  // What each kind of form sends: the API's body, the field of it that says when, and what can be corrected.
  const KINDS = {
    drive: (form, data) => ({
      time: "at",
      body: filled({ leg: data.get("leg"), odometer: (data.get("odometer") ?? "").trim().replace(",", ".") }),
      undo: { url: form.dataset.undo, body: { leg: data.get("leg"), tap: form.dataset.tap } },
      fields: [TIME, { path: "odometer", label: "Odometer", type: "decimal" }],
    }),
    "drive-undo": (form, data) => ({ time: "at", body: { leg: data.get("leg"), tap: data.get("tap") }, fields: [] }),
    log(form, data, key) {
      // Boxes may stand outside of their form.
      const people = [...form.elements].filter((one) => one.name === "absent").map((box) => ({
        line: Number(box.value),
        who: initials(box.closest("label").querySelector(".visually-hidden")?.textContent.replace(/^\W+/, "") ?? ""),
      }));
      const absent = data.getAll("absent").map(Number);
      const exceptions = absent.map((line) => ({ service_line: line, reason: "student_absent" }));
      return {
        time: "noted_at",
        body: { session: data.get("uid"), client_id: key, exceptions },
        undo: { url: "/api/1/log-undos/", body: { client_id: key } },
        fields: [{ path: "exceptions", label: "Absent", type: "absent", people }],
        more: people.length ? counted(absent, people) : "",
      };
    },
    "log-more"(form, data, key) {
      const [exceptions, lines] = [[], []];
      for (let at = 0; data.has(`students-${at}-line`); at += 1) {
        const of = (name) => (data.get(`students-${at}-${name}`) ?? "").trim();
        const told = filled({ reason: of("reason"), delivered_minutes: number(of("delivered_minutes")), note: of("note") });
        if (Object.keys(told).length) {
          exceptions.push({ service_line: Number(of("line")), ...told });
          lines.push(at);
        }
      }
      const given = filled({ given_by: (data.get("given_by") ?? "").trim(), given_under: (data.get("given_under") ?? "").trim() });
      return {
        time: "noted_at",
        body: { session: data.get("uid"), client_id: key, exceptions, ...given },
        undo: { url: "/api/1/log-undos/", body: { client_id: key } },
        fields: [
          ...exceptions.flatMap((one, at) => ["reason", "delivered_minutes", "note"].map((name) => typed(form, `students-${lines[at]}-${name}`, `exceptions.${at}.${name}`, exceptions.length > 1 ? `, ${at + 1}` : ""))),
          ...["given_by", "given_under"].map((name) => typed(form, name, name)),
        ].filter((one) => one && (one.path in given || one.path.includes("."))),
        more: exceptions.length ? `${exceptions.length} not as planned` : "as planned",
      };
    },
    "log-undo": (form, data) => ({ body: { client_id: data.get("sending") }, fields: [] }),
    "data-undo": () => ({ body: {}, fields: [] }),
    happening(form, data) {
      const told = {};
      for (const name of new Set(data.keys())) {
        const values = data.getAll(name).filter(Boolean);
        if (name === "csrfmiddlewaretoken" || name === "idempotency_key" || name === "save" || !values.length) continue;
        if (name === "buildings") told[name] = values.map(Number);
        else if (["teacher", "space", "school_class", "student", "minutes"].includes(name)) told[name] = Number(values[0]);
        else if (name === "goes_on") told[name] = true;
        else told[name] = values[0];
      }
      return {
        time: "at",
        body: told,
        undo: { url: "/api/1/happenings/{id}/take-back/" },
        more: [told.minutes && `${told.minutes} minutes`, told.first_date].filter(Boolean).join(", "),
        fields: Object.keys(told).map((name) => typed(form, name, name) ?? HAPPENED[name]).filter(Boolean),
      };
    },
    "happening-undo": () => ({ body: {}, fields: [] }),
  };

  const noteOf = (form) => form.parentElement.querySelector(`.queued[data-of="${CSS.escape(form.dataset.about)}"]`);

  // In the form's place: what is kept, and the way back. The form itself stays as it was typed.
  function shown(form, entry, refused) {
    noteOf(form)?.remove();
    form.hidden = Boolean(entry) && !refused;
    for (const one of form.elements) if (!form.contains(one)) (one.closest("label") ?? one).hidden = form.hidden;
    for (const one of document.querySelectorAll(`[data-shown-after="${CSS.escape(form.dataset.about)}"]`)) one.hidden = !entry;
    if (!entry) return;
    const note = document.createElement("div");
    note.className = `queued notice ${refused ? "error" : "info"} no-print`;
    note.dataset.of = form.dataset.about;
    note.setAttribute("role", refused ? "alert" : "status");
    const head = Object.assign(document.createElement("strong"), { textContent: refused ? "Nothing was saved" : "Not sent yet" });
    const said = refused ? sentences(refused) : `${entry.words}. Kept on this phone, and sent when there is a signal.`;
    note.append(head, Object.assign(document.createElement("p"), { textContent: said }));
    if (!refused) {
      const back = Object.assign(document.createElement("button"), { type: "button", className: "button-quiet", textContent: "Take back" });
      back.append(Object.assign(document.createElement("span"), { className: "visually-hidden", textContent: `: ${entry.words}` }));
      back.addEventListener("click", async () => {
        noteOf(form)?.remove();
        await queue.takeBack(entry.key);
        decorate();
      });
      note.append(back);
    }
    form.before(note);
    for (const part of form.querySelectorAll("[data-hides]")) part.hidden = true;
  }

  function sentences({ message, fields }) {
    const told = Object.values(fields ?? {}).flat();
    return told.length ? told.join(" ") : message || "The server refused it.";
  }

  // Sent, or taken back on another page: the page is older than what stands.
  function gone(form, note) {
    const again = Object.assign(document.createElement("a"), { className: "button button-quiet", textContent: "Show what stands now", href: location.href });
    again.addEventListener("click", (event) => {
      event.preventDefault();
      location.reload();
    });
    note.replaceChildren(Object.assign(document.createElement("strong"), { textContent: "Sent" }), Object.assign(document.createElement("p"), { textContent: "The server has it." }), again);
    note.className = "queued notice success no-print";
  }

  async function decorate() {
    const rows = await queue.list();
    for (const form of document.querySelectorAll("form[data-queue][data-about]")) {
      const entry = rows.find((one) => one.about === form.dataset.about && one.state !== "back");
      const note = noteOf(form);
      if (entry) shown(form, entry, entry.state === "refused" ? entry.refusal : null);
      else if (note?.classList.contains("info")) gone(form, note);
      else if (!note?.classList.contains("success") && !("stays" in (note?.dataset ?? {}))) shown(form, null, null);
    }
  }

  function plain(form, button) {
    if (button?.name) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: button.name, value: button.value }));
    HTMLFormElement.prototype.submit.call(form);
  }

  const once = (kind, key) => new Promise((done) => {
    const stop = new AbortController();
    const end = (found) => (event) => {
      if (event.detail && event.detail.entry?.key !== key) return;
      stop.abort();
      done({ found, told: event.detail?.told });
    };
    queue.events.addEventListener("taken", end("taken"), { signal: stop.signal });
    queue.events.addEventListener("refused", end("refused"), { signal: stop.signal });
    setTimeout(() => { stop.abort(); done({ found: "kept" }); }, kind);
  });

  const why = (error) => (error.name === "QuotaExceededError" ? "This phone has no room left, so this isn’t kept." : error.message);

  async function take(form, button, tapped) {
    const key = queue.newKey();
    const data = new FormData(form, button);
    if (form.dataset.first === "server" && !button?.hasAttribute("data-now") && (await queue.reach())) return plain(form, button);
    const made = KINDS[form.dataset.queue](form, data, key);
    const after = (await queue.list()).filter((one) => form.dataset.after && one.about === form.dataset.after).map((one) => one.key);
    const { more, ...rest } = made;
    const words = [form.dataset.words, more].filter(Boolean).join(": ");
    let entry;
    try {
      entry = await queue.add({ key, kind: form.dataset.queue, url: form.dataset.url, about: form.dataset.about ?? "", words, tapped, after, page: location.pathname + location.search, date: form.dataset.date ?? "", ...rest });
    } catch (error) {
      // The phone keeps nothing more: it is sent as any form is, if there is a signal.
      if (await queue.reach()) return plain(form, button);
      return shown(form, { words }, { message: `${why(error)} There is no signal either. Write it down, and make room on this phone.` });
    }
    const result = once(8000, key);
    const flushed = queue.flush().then(() => new Promise((done) => setTimeout(() => done({ found: "kept" }), 50)));
    const { found, told } = await Promise.race([result, flushed]);
    if (found === "taken") return left(form, entry, told, words);
    if (found === "refused") {
      // Seen at once by who typed it: the form still holds it, as with any form.
      await phoneStore.queue.remove(key);
      queue.events.dispatchEvent(new CustomEvent("changed"));
      shown(form, { words }, told);
      noteOf(form).dataset.stays = "";
      return undefined;
    }
    shown(form, entry, null);
    return noted(entry);
  }

  // ---- undone while it is still in sight ------------------------------------------------------------------------
  // Taken back where it still waits here; what the server has is undone there, by an entry of its own.
  async function takeBack(entry, told) {
    if ((await queue.list()).some((one) => one.key === entry.key)) {
      document.querySelector(`.queued[data-of="${CSS.escape(entry.about)}"]`)?.remove();
      await queue.takeBack(entry.key);
      await decorate();
      return phoneToast.show(`Taken back: ${entry.words}.`);
    }
    const key = queue.newKey();
    await queue.add({
      key, kind: "undo", url: entry.undo.url.replace("{id}", told?.id), body: entry.undo.body ?? {}, time: entry.kind === "drive" ? "at" : "",
      about: `undo ${entry.about}`, words: `Undo: ${entry.words}`, page: entry.page, date: entry.date, fields: [],
    });
    const result = once(8000, key);
    const flushed = queue.flush().then(() => new Promise((done) => setTimeout(() => done({ found: "kept" }), 50)));
    const { found, told: why } = await Promise.race([result, flushed]);
    if (found === "taken") return reload(`Taken back: ${entry.words}.`);
    phoneToast.show(found === "refused" ? `Not taken back: ${sentences(why)}` : `${entry.words}: taken back once there is a signal.`);
  }

  function noted(entry) {
    let sent = null;
    queue.events.addEventListener("taken", ({ detail }) => { if (detail?.entry?.key === entry.key) sent = detail.told; });
    phoneToast.show(`Noted: ${entry.words}.`, () => takeBack(entry, sent));
  }

  const SAID = "queue-said";
  function remember(words, entry, told) {
    try {
      sessionStorage.setItem(SAID, JSON.stringify({ words, entry: entry?.undo ? entry : null, told: { id: told?.id } }));
    } catch {
      // Nothing is said then; what stands on the page says it too.
    }
  }

  function reload(words) {
    remember(words);
    location.reload();
  }

  function left(form, entry, told, words) {
    remember(form.dataset.said || `Saved. ${words}.`, entry, told);
    const to = new URL((form.dataset.done || location.href).replace("DATE", entry.body.first_date), location.href);
    if (to.pathname + to.search === location.pathname + location.search) {
      if (to.hash) history.replaceState(null, "", to);
      return location.reload();
    }
    location.assign(to);
  }

  function say() {
    let said = null;
    try {
      said = JSON.parse(sessionStorage.getItem(SAID));
      sessionStorage.removeItem(SAID);
    } catch {
      return;
    }
    // Screen readers announce what comes into a place that is there already.
    if (said) setTimeout(() => phoneToast.show(said.words, said.entry && (() => takeBack(said.entry, said.told))), 100);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target.closest?.("form[data-queue]");
    if (!form || !(form.dataset.queue in KINDS)) return;
    event.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    const tapped = Date.now();
    take(form, event.submitter, tapped).finally(() => { delete form.dataset.busy; });
  });
  for (const kind of ["changed", "taken"]) queue.events.addEventListener(kind, queue.soon(decorate));
  // A page that was kept before its day came: what can be tapped on that day is there from its morning on.
  phoneStore.clockOffset().then((offset) => {
    const today = new Intl.DateTimeFormat("en-CA").format(new Date(Date.now() + offset));
    for (const part of document.querySelectorAll("[data-on]")) part.hidden = part.dataset.on > today;
  });
  decorate();
  say();
})();
