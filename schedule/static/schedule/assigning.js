// A building's students are checked together; printed pages show every building opened.
document.querySelectorAll(".of-building").forEach((building) => {
  const boxes = building.querySelectorAll("input[name=unit]");
  if (boxes.length < 2) return;
  const label = document.createElement("label");
  label.className = "check";
  const all = document.createElement("input");
  all.type = "checkbox";
  all.addEventListener("change", () => boxes.forEach((box) => { box.checked = all.checked; }));
  label.append(all, " All of them");
  building.querySelector("summary").after(label);
});
window.addEventListener("beforeprint", () => {
  document.querySelectorAll(".of-building").forEach((building) => { building.open = true; });
});
