// Data with one thumb. Without this script each goal is a plain form. With it a trial is one tap, what is taken is
// sent at once under an id made here, and what can't be sent waits on the phone: ids, figures, and what was typed
// with them, no student's name. Nothing is deleted before the server has it.
(() => {
  const KEY = "data-points-waiting";
  const sections = [...document.querySelectorAll(".taking")];
  if (!sections.length) return;
  const url = sections[0].dataset.points;
  const token = () => {
    try {
      return JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
    } catch {
      return document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
    }
  };
  const newId = () => {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };

  // ---- what waits to be sent -----------------------------------------------------------------------------------
  let held = [];
  const waiting = () => {
    try {
      return JSON.parse(localStorage.getItem(KEY) ?? "[]");
    } catch {
      return held;
    }
  };
  const keep = (rows) => {
    held = rows;
    try {
      localStorage.setItem(KEY, JSON.stringify(rows));
    } catch {
      // No storage: it waits as long as this page is open.
    }
    said();
  };
  const said = (problem = "") => {
    const count = waiting().length;
    for (const section of sections) {
      const box = section.querySelector(".take-queue");
      box.hidden = !count && !problem;
      box.textContent = problem || `${count} not sent yet: ${count === 1 ? "it waits" : "they wait"} on this phone for a signal.`;
    }
  };
  const post = (address, body) =>
    fetch(address, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": token() },
      body: JSON.stringify(body ?? {}),
    });
  const words = async (answer) => {
    try {
      const told = await answer.json();
      const found = [];
      const walk = (one) => (typeof one === "string" ? found.push(one) : one && typeof one === "object" && Object.values(one).forEach(walk));
      walk(told.detail ?? told.message ?? told.errors ?? told);
      return found.join(" ");
    } catch {
      return `The server answered ${answer.status}.`;
    }
  };
  let sending = false;
  const flush = async () => {
    if (sending) return;
    sending = true;
    try {
      for (const row of waiting()) {
        if (row.refused) continue;
        let answer;
        try {
          answer = await post(url, row.point);
        } catch {
          break; // no signal
        }
        // Signed out, or the server is down: it waits.
        if (answer.status === 401 || answer.status === 403 || answer.status >= 500) {
          said(answer.status >= 500 ? "" : "You are signed out. What you took waits on this phone; sign in and open this page again.");
          break;
        }
        if (answer.ok) {
          keep(waiting().filter((one) => one.point.client_id !== row.point.client_id));
          stored(row, await answer.json());
        } else {
          refused(row, await words(answer));
        }
      }
    } finally {
      sending = false;
    }
  };
  const send = () => (navigator.locks ? navigator.locks.request(KEY, flush) : flush());

  const lineOf = (row) => document.querySelector(`.take-today [data-id="${row.point.client_id}"]`);
  const button = (text, more, act) => {
    const made = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: text });
    const hidden = Object.assign(document.createElement("span"), { className: "visually-hidden", textContent: ` ${more}` });
    made.append(hidden);
    made.addEventListener("click", act);
    return made;
  };
  const show = (row) => {
    const list = document.querySelector(`.take-goal[data-goal="${row.point.goal}"] .take-today`);
    if (!list || lineOf(row)) return;
    const line = document.createElement("li");
    line.dataset.id = row.point.client_id;
    const text = Object.assign(document.createElement("span"), { textContent: `${row.words} ` });
    text.append(Object.assign(document.createElement("span"), { className: "wait", textContent: "not sent yet" }));
    line.append(text, button("Take back", row.words, () => {
      keep(waiting().filter((one) => one.point.client_id !== row.point.client_id));
      line.remove();
    }));
    list.prepend(line);
  };
  const stored = (row, point) => {
    const line = lineOf(row);
    if (!line) return;
    line.querySelector(".wait").textContent = "saved";
    line.querySelector("button").replaceWith(button("Take back", row.words, async (event) => {
      event.target.disabled = true;
      try {
        const answer = await post(`${url}${point.id}/undo/`);
        if (answer.ok) {
          line.remove();
          return;
        }
        line.querySelector(".wait").textContent = await words(answer);
      } catch {
        line.querySelector(".wait").textContent = "no signal: not taken back yet";
      }
      event.target.disabled = false;
    }));
  };
  const refused = (row, why) => {
    keep(waiting().map((one) => (one.point.client_id === row.point.client_id ? { ...one, refused: why } : one)));
    show(row);
    const line = lineOf(row);
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
          if (marks.length >= Number(goal.dataset.trials)) save(null);
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
      event.preventDefault();
      save(event.submitter?.name === "value" ? event.submitter : null);
    });

    function save(level) {
      stop();
      const told = level ? level.value : value.value.trim().replace(",", ".");
      if (told === "" || Number.isNaN(Number(told))) {
        value?.focus();
        return;
      }
      const tried = form.elements.tried ? Number(form.elements.tried.value) || null : null;
      const point = {
        client_id: newId(),
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
      const row = { point, words: seen };
      keep([...waiting(), row]);
      show(row);
      marks = "";
      if (value && !level) value.value = "";
      if (kind === "trials") drawn();
      form.elements.note.value = "";
      if (kind === "timer") label("Start");
      send();
    }
  }

  for (const row of waiting()) show(row);
  said();
  send();
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
})();
