// Today at now, by the phone's clock as it was put right: the mark, what is over folded away, what can be tapped from
// its time on. The page came with all of it as of the moment when it was made (schedule/day/now.py); a page that the
// phone kept is older. Until when a line stays is said by the line.
"use strict";

(() => {
  const box = document.querySelector(".day-now-box");
  if (!box) return;
  const fold = box.querySelector(".earlier"), over = fold.querySelector("ol"), rest = box.querySelector("[data-rest]");
  const lines = [...box.querySelectorAll(".day-line")];
  const narrow = matchMedia("(max-width: 45rem)");
  let offset = 0;

  // The date and the minute after midnight where the district is.
  function moment() {
    const parts = new Intl.DateTimeFormat("en-CA", {
      timeZone: box.dataset.zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
    }).formatToParts(Date.now() + offset);
    const of = (kind) => parts.find((one) => one.type === kind).value;
    return { date: `${of("year")}-${of("month")}-${of("day")}`, minute: 60 * Number(of("hour")) + Number(of("minute")) };
  }
  const words = (minute) => `${((Math.floor(minute / 60) + 11) % 12) + 1}:${String(minute % 60).padStart(2, "0")} ${minute < 720 ? "AM" : "PM"}`;
  const number = (line, name) => Number(line.dataset[name]);

  function mark() {
    const found = rest.querySelector(".day-now");
    if (found) return found;
    const made = Object.assign(document.createElement("li"), { className: "day-now no-print" });
    made.setAttribute("aria-current", "time");
    const clock = Object.assign(document.createElement("span"), { className: "numbers" });
    clock.dataset.clock = "";
    const asOf = Object.assign(document.createElement("span"), { className: "quiet" });
    asOf.dataset.asOf = "";
    made.append(Object.assign(document.createElement("strong"), { textContent: "Now" }), " ", clock, " ", asOf);
    return made;
  }

  function place(minute) {
    // Nothing moves away from under a finger or a keyboard.
    const isOver = (line) => number(line, "until") <= minute && (line.closest(".earlier") || !line.contains(document.activeElement));
    const gone = lines.filter(isOver), here = lines.filter((line) => !isOver(line));
    if (gone.length !== over.children.length) {
      over.append(...gone);
      rest.append(...here);
    }
    const waiting = gone.filter((line) => "waits" in line.dataset).length;
    fold.hidden = !gone.length;
    fold.querySelector("[data-count]").textContent = gone.length;
    const toLog = fold.querySelector("[data-to-log]");
    toLog.hidden = !waiting;
    toLog.querySelector(".badge span").textContent = waiting;
    const at = mark(), next = here.find((line) => number(line, "end") > minute) ?? null;
    if (!at.isConnected || at.nextElementSibling !== next) rest.insertBefore(at, next);
    at.querySelector("[data-clock]").textContent = words(minute);
    const kept = document.querySelector("[data-kept-at]");
    if (kept) {
      const made = new Intl.DateTimeFormat("en-US", { timeZone: box.dataset.zone, hour: "numeric", minute: "2-digit" });
      at.querySelector("[data-as-of]").textContent = `· page from ${made.format(new Date(kept.dataset.keptAt))}`;
    }
  }

  // The one thing to tap now, within reach of the thumb: the card has the same button.
  const bar = Object.assign(document.createElement("div"), { className: "now-bar no-print", hidden: true });
  const button = Object.assign(document.createElement("button"), { type: "submit", className: "big" });
  bar.append(button);
  document.body.append(bar);
  function offer() {
    const shown = (form) => !form.hidden && !form.closest("[hidden], details:not([open])");
    const form = [...rest.querySelectorAll("form.tap")].find(shown);
    bar.hidden = !form || !form.dataset.bar;
    document.body.classList.toggle("has-now-bar", !bar.hidden);
    if (bar.hidden) return;
    button.setAttribute("form", form.id);
    button.textContent = form.dataset.bar + (form.querySelector("[data-says]")?.textContent ?? "");
  }

  function draw() {
    const { date, minute } = moment(), day = box.dataset.date;
    for (const part of box.querySelectorAll("[data-from]")) part.hidden = date < day || (date === day && minute < number(part, "from"));
    if (date !== day) return;
    place(minute);
    offer();
  }

  // What stands above the list is read once; after that the page opens at now.
  function scroll() {
    if (!narrow.matches || fold.hidden || location.hash) return;
    const above = [...document.querySelectorAll("main .notice.error, main .notice.warning")].map((one) => one.textContent).join("");
    const seen = String([...above].reduce((sum, one) => (Math.imul(sum, 31) + one.codePointAt(0)) | 0, 7));
    try {
      if (above && sessionStorage.getItem("day-seen") !== seen) {
        sessionStorage.setItem("day-seen", seen);
        return;
      }
    } catch {
      // Nothing is remembered: the page opens at now.
    }
    box.scrollIntoView({ block: "start" });
  }

  // A fold of a line that an address names, and browsers that can't show what is folded on a wide screen or on paper.
  const target = location.hash ? document.getElementById(location.hash.slice(1)) : null;
  if (target?.closest(".earlier")) {
    fold.open = true;
    target.scrollIntoView();
  }
  if (!CSS.supports("selector(::details-content)")) {
    fold.open ||= !narrow.matches;
    addEventListener("beforeprint", () => { fold.open = true; });
  }

  draw();
  scroll();
  self.phoneStore?.clockOffset().then((found) => {
    offset = found;
    draw();
  });
  setInterval(draw, 20_000);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && draw());
  fold.addEventListener("toggle", offer);
  document.addEventListener("change", () => setTimeout(offer));
  for (const kind of ["changed", "taken", "shown"]) self.phoneQueue?.events.addEventListener(kind, () => setTimeout(draw, 200));
})();
