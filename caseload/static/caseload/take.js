// Data with one thumb. Without this script each goal is a plain form. With it a trial is one tap, and what is taken
// is kept on the phone under an id made here and sent from there (queue.js): ids, figures, and what was typed with
// them, no student's name.
(() => {
  const sections = [...document.querySelectorAll(".taking")];
  if (!sections.length) return;
  const url = sections[0].dataset.points;
  const queue = self.phoneQueue;
  const keeps = Boolean(queue?.usable);
  const FIELDS = [
    { path: "time", label: "Taken at", type: "time" },
    { path: "value", label: "Value", type: "decimal", drops: "marks" },
    { path: "tried", label: "Tried", type: "whole", drops: "marks" },
    { path: "taken_by_name", label: "Taken by", type: "text" },
    { path: "note", label: "Note", type: "text" },
  ];

  const said = (problem = "") => {
    for (const section of sections) {
      const box = section.querySelector(".take-queue");
      box.hidden = !problem;
      box.textContent = problem;
    }
  };
  const undoOf = (id) => `${url}${id}/undo/`;
  const entryOf = (point, words) => ({
    key: point.client_id, kind: "data", url, body: point, time: "taken_at", about: `data ${point.goal}`, words,
    undo: { url: undoOf("{id}") }, fields: FIELDS.filter((one) => one.path === "time" || point[one.path]), date: point.day, page: location.pathname + location.search,
  });

  const lineOf = (key) => document.querySelector(`.take-today [data-id="${key}"]`);
  const button = (text, more, act) => {
    const made = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: text });
    const hidden = Object.assign(document.createElement("span"), { className: "visually-hidden", textContent: ` ${more}` });
    made.append(hidden);
    made.addEventListener("click", act);
    return made;
  };
  const show = (entry) => {
    const list = document.querySelector(`.take-goal[data-goal="${entry.body.goal}"] .take-today`);
    if (!list || lineOf(entry.key)) return;
    const line = document.createElement("li");
    line.dataset.id = entry.key;
    const text = Object.assign(document.createElement("span"), { textContent: `${entry.words} ` });
    text.append(Object.assign(document.createElement("span"), { className: "wait", textContent: "not sent yet" }));
    line.append(text, button("Take back", entry.words, async () => {
      line.remove();
      await queue.takeBack(entry.key);
    }));
    list.prepend(line);
  };
  const stored = (entry, told) => {
    const line = lineOf(entry.key);
    if (!line) return;
    line.querySelector(".wait").textContent = "saved";
    line.querySelector("button").replaceWith(button("Take back", entry.words, async (event) => {
      event.target.disabled = true;
      const key = queue.newKey();
      await queue.add({ key, kind: "data-undo", url: undoOf(told.id), body: {}, about: `data-undo ${told.id}`, words: `Take back ${entry.words}`, fields: [] });
      await queue.flush();
      if (!(await queue.list()).some((one) => one.key === key)) line.remove();
      else line.querySelector(".wait").textContent = "taken back once there is a signal";
    }));
  };
  const refused = (entry, told) => {
    const why = Object.values(told.fields ?? {}).flat().join(" ") || told.message || "the server refused it";
    show(entry);
    const line = lineOf(entry.key);
    if (line) line.querySelector(".wait").textContent = `not saved: ${why}`;
    else said(`Something couldn’t be saved: ${why}`);
  };

  // ---- one goal ------------------------------------------------------------------------------------------------
  for (const section of sections) {
    const who = section.querySelector(".take-who input");
    who.closest(".take-who").hidden = false;
    who.addEventListener("input", () => {
      for (const name of section.querySelectorAll("[name=taken_by_name]")) name.value = who.value;
    });
    for (const goal of section.querySelectorAll(".take-goal")) begin(section, goal);
  }

  function begin(section, goal) {
    const form = goal.querySelector("form");
    const kind = goal.dataset.kind;
    const value = form.elements.value;
    const box = goal.querySelector(".take-script");
    const undo = goal.querySelector(".take-undo-tap");
    let marks = "";
    let clock = null;
    let began = 0;
    if (box) box.hidden = false;
    const label = (text) => Object.assign(goal.querySelector("[data-timer]"), { textContent: text });
    const stop = () => {
      if (clock === null) return;
      clearInterval(clock);
      clock = null;
      value.value = ((performance.now() - began) / 1000).toFixed(1);
      label("Start again");
    };
    const drawn = () => {
      goal.querySelector(".take-marks").textContent = [...marks].map((one) => (one === "1" ? "✓" : "✗")).join(" ");
      value.value = marks ? [...marks].filter((one) => one === "1").length : "";
      form.elements.tried.value = marks ? marks.length : goal.dataset.trials;
      undo.hidden = !marks;
    };
    if (kind === "trials") {
      for (const tap of box.querySelectorAll("[data-mark]")) {
        tap.addEventListener("click", () => {
          marks += tap.dataset.mark;
          drawn();
          if (marks.length >= Number(goal.dataset.trials)) form.requestSubmit();
        });
      }
      undo.addEventListener("click", () => {
        marks = marks.slice(0, -1);
        drawn();
      });
      for (const typed of [value, form.elements.tried]) {
        typed.addEventListener("input", () => {
          marks = "";
          goal.querySelector(".take-marks").textContent = "";
          undo.hidden = true;
        });
      }
    }
    if (kind === "tally") {
      for (const tap of box.querySelectorAll("[data-add]")) {
        tap.addEventListener("click", () => {
          value.value = Math.max(0, (Number(value.value) || 0) + Number(tap.dataset.add));
        });
      }
    }
    if (kind === "timer") {
      box.querySelector("[data-timer]").addEventListener("click", () => {
        if (clock !== null) {
          stop();
          return;
        }
        began = performance.now();
        clock = setInterval(() => {
          value.value = ((performance.now() - began) / 1000).toFixed(1);
        }, 200);
        label("Stop");
      });
    }
    form.addEventListener("submit", (event) => {
      if (!keeps) {
        stop();
        return;
      }
      event.preventDefault();
      save(event.submitter?.name === "value" ? event.submitter : null);
    });

    function save(level) {
      const tapped = Date.now();
      stop();
      const told = level ? level.value : value.value.trim().replace(",", ".");
      if (told === "" || Number.isNaN(Number(told))) {
        value?.focus();
        return;
      }
      const tried = form.elements.tried ? Number(form.elements.tried.value) || null : null;
      const point = {
        client_id: queue.newKey(),
        goal: Number(goal.dataset.goal),
        day: section.dataset.day,
        value: told,
        tried,
        marks,
        session_uid: section.dataset.session || null,
        taken_by_name: form.elements.taken_by_name.value.trim(),
        note: form.elements.note.value.trim(),
      };
      const seen = level ? `${level.firstChild.textContent}, ${level.querySelector("span").textContent}` : tried ? `${told} of ${tried}` : told;
      const entry = entryOf(point, seen);
      show(entry);
      phoneToast.show(`Noted: ${seen}.`, () => lineOf(entry.key)?.querySelector("button")?.click());
      queue.add({ ...entry, tapped }).then(queue.flush, (error) => refused(entry, { message: error.message }));
      marks = "";
      if (value && !level) value.value = "";
      if (kind === "trials") drawn();
      form.elements.note.value = "";
      if (kind === "timer") label("Start");
    }
  }

  if (!keeps) return;
  const of = (act) => ({ detail }) => detail?.entry?.kind === "data" && act(detail.entry, detail.told);
  queue.events.addEventListener("taken", of(stored));
  queue.events.addEventListener("refused", of(refused));
  queue.ready.then(queue.list).then((rows) => {
    for (const entry of rows.filter((one) => one.kind === "data")) {
      if (entry.state === "refused") refused(entry, entry.refusal);
      else if (entry.state === "waiting") show(entry);
    }
    queue.flush();
  });
})();
