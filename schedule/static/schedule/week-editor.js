// Makes the week's editor smoother: choosing without a new page, dragging to a legal place, arrow keys.
// The server draws everything, the legal places included; without this script the same links and forms work.

const DRAG_FROM = 6; // pixels; less is a click
const SNAP = 90; // units of the drawing around a legal place

const editor = document.querySelector("[data-editor]");
const strips = () => [...document.querySelectorAll(".editor .strip")];
let lookingFor = null; // the answer that is awaited, so that a later choice wins

// A change loads the page again: stay where the reader was.
const KEPT = "week-editor-scroll";
document.addEventListener("submit", () => sessionStorage.setItem(KEPT, `${location.pathname} ${scrollY}`));
const [keptPath, keptScroll] = (sessionStorage.getItem(KEPT) ?? "").split(" ");
sessionStorage.removeItem(KEPT);
if (keptPath === location.pathname) scrollTo(0, Number(keptScroll));

document.querySelectorAll(".with-script").forEach((one) => { one.hidden = false; });

/** Fetch the editor with a session chosen, and take its legal places and its panel over. */
async function choose(address) {
  const mine = new AbortController();
  lookingFor?.abort();
  lookingFor = mine;
  editor.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(address, { signal: mine.signal, credentials: "same-origin" });
    if (!answer.ok) { location.assign(address); return false; }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const strip of strips()) takeTargets(strip, page.getElementById(strip.id));
    document.getElementById("panel-place").replaceChildren(...page.getElementById("panel-place").childNodes);
    history.replaceState(null, "", address.split("#")[0]);
    return true;
  } catch (error) {
    if (error.name === "AbortError") return false;
    location.assign(address);
    return false;
  } finally {
    if (lookingFor === mine) editor.removeAttribute("aria-busy");
  }
}

function takeTargets(strip, drawn) {
  for (const day of strip.querySelectorAll(".day")) {
    const found = drawn?.querySelector(`.day[data-day="${day.dataset.day}"] .targets`);
    day.querySelector(".targets").replaceChildren(...(found ? found.childNodes : []));
  }
  for (const session of strip.querySelectorAll(".session")) {
    const other = drawn?.querySelector(`.session[data-uid="${session.dataset.uid}"]`);
    session.classList.toggle("chosen", Boolean(other?.classList.contains("chosen")));
  }
}

/** Forget the choice: no legal places, no panel. */
function close(focusOn) {
  lookingFor?.abort();
  for (const strip of strips()) takeTargets(strip, null);
  document.getElementById("panel-place").replaceChildren();
  history.replaceState(null, "", location.pathname);
  focusOn?.focus();
}

/** Send the panel's own form with one of its places. */
function place(value) {
  const form = document.getElementById("place-form");
  const radio = [...(form?.elements.place?.length ? form.elements.place : [form?.elements.place])]
    .find((one) => one?.value === value);
  if (!radio) return;
  radio.checked = true;
  form.requestSubmit();
}

/** The panel keeps to the lower edge of a wide window; on a narrow one the page has to go there. */
function showPanel() {
  const panel = document.getElementById("panel");
  panel?.focus({ preventScroll: true });
  if (panel && getComputedStyle(panel).position !== "sticky") panel.scrollIntoView({ block: "start" });
}

// --- clicks -------------------------------------------------------------------------------------------------

document.addEventListener("click", async (event) => {
  if (event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  const target = event.target.closest(".editor .target");
  if (target) { event.preventDefault(); place(target.dataset.place); return; }
  if (event.target.closest("[data-close]")) { event.preventDefault(); close(document.querySelector(".strip .chosen")); return; }
  const session = event.target.closest(".editor .session");
  if (!session) return;
  event.preventDefault();
  if (drag?.moved) return;
  if (await choose(session.getAttribute("href"))) showPanel();
});

// --- arrow keys ---------------------------------------------------------------------------------------------

const ARROWS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

document.addEventListener("keydown", async (event) => {
  const here = event.target.closest?.(".editor .strip .session, .editor .strip .target");
  if (!here) return;
  if (event.key === "Escape") {
    event.preventDefault();
    close(here.closest(".strip").querySelector(".session.chosen") ?? here);
  } else if (event.key in ARROWS && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    if (here.classList.contains("target")) step(here, ARROWS[event.key]);
    else await enter(here);
  }
});

/** From a session to its nearest legal place. */
async function enter(session) {
  if (!await choose(session.getAttribute("href"))) return;
  const from = middle(session);
  nearest([...session.closest(".strip").querySelectorAll(".target")], from)?.one.focus();
}

/** From a legal place to the next: earlier or later in the day, or the nearest in time of another day. */
function step(target, [dayStep, timeStep]) {
  const strip = target.closest(".strip");
  const down = strip.classList.contains("strip-down");
  const along = (one) => (down ? middle(one).y : middle(one).x);
  const days = [...strip.querySelectorAll(".day")].map((day) => [...day.querySelectorAll(".target")]).filter((day) => day.length);
  for (const day of days) day.sort((one, other) => along(one) - along(other));
  const at = days.findIndex((day) => day.includes(target));
  if ((down ? dayStep : timeStep) !== 0) {
    const all = days.flat();
    all[all.indexOf(target) + (down ? dayStep : timeStep)]?.focus();
  } else {
    const other = days[at + (down ? timeStep : dayStep)];
    other?.reduce((best, one) => (Math.abs(along(one) - along(target)) < Math.abs(along(best) - along(target)) ? one : best)).focus();
  }
}

// --- dragging -----------------------------------------------------------------------------------------------

let drag = null;

document.addEventListener("dragstart", (event) => { if (event.target.closest?.(".editor .strip")) event.preventDefault(); });

document.addEventListener("pointerdown", (event) => {
  const session = event.target.closest(".editor .session");
  drag = null;
  if (!session || event.button || event.pointerType === "touch") return;
  drag = { session, strip: session.closest(".strip"), x: event.clientX, y: event.clientY, moved: false, ghost: null, near: null };
});

document.addEventListener("pointermove", (event) => {
  if (!drag || drag.over) return;
  if (!drag.moved && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < DRAG_FROM) return;
  if (!drag.moved) lift(drag);
  event.preventDefault();
  follow(drag, event);
});

document.addEventListener("pointerup", () => {
  if (!drag || drag.over) return;
  drag.over = true;
  if (!drag.moved) return;
  const value = drag.near?.dataset.place;
  drop(drag);
  if (value) place(value);
  else if (drag.strip.querySelector(".target")) close(drag.session);
  else showPanel(); // it has no other place: the panel says why
});

document.addEventListener("pointercancel", () => { if (drag?.moved) { drop(drag); drag = null; } });
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && drag?.moved && !drag.over) { drag.over = true; drop(drag); close(drag.session); }
});

function lift(one) {
  one.moved = true;
  one.ghost = one.session.cloneNode(true);
  one.ghost.removeAttribute("href");
  one.ghost.removeAttribute("data-uid");
  one.ghost.setAttribute("aria-hidden", "true");
  one.ghost.classList.add("ghost");
  one.strip.append(one.ghost);
  one.session.classList.add("lifted");
  document.documentElement.classList.add("dragging");
  one.from = middle(one.session);
  choose(one.session.getAttribute("href"));
}

function follow(one, event) {
  const scale = one.strip.getScreenCTM().a;
  const at = { x: one.from.x + (event.clientX - one.x) / scale, y: one.from.y + (event.clientY - one.y) / scale };
  const found = nearest([...one.strip.querySelectorAll(".target")], at);
  one.near?.classList.remove("near");
  one.near = found && found.distance < SNAP ? found.one : null;
  one.near?.classList.add("near");
  const to = one.near ? middle(one.near) : at;
  one.ghost.setAttribute("transform", `translate(${to.x - one.from.x} ${to.y - one.from.y})`);
  one.ghost.classList.toggle("lifted", Boolean(one.near));
}

function drop(one) {
  one.ghost?.remove();
  one.near?.classList.remove("near");
  one.session.classList.remove("lifted");
  document.documentElement.classList.remove("dragging");
}

function middle(one) {
  const box = one.querySelector("rect").getBBox();
  return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
}

function nearest(all, at) {
  let best = null;
  for (const one of all) {
    const { x, y } = middle(one);
    const distance = Math.hypot(x - at.x, y - at.y);
    if (!best || distance < best.distance) best = { one, distance };
  }
  return best;
}
