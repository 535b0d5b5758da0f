// Puts the reader at the error summary of a form that came back, as public design systems advise.
document.querySelector(".error-summary")?.focus();

// A given password works for one sign-in: the second click of a double click must not be a second sign-in.
for (const form of document.querySelectorAll("form[data-once]")) {
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) event.preventDefault();
    sent = true;
  });
  // Back to this page out of the browser's memory.
  window.addEventListener("pageshow", () => {
    sent = false;
  });
}

// A month opens at today on a phone, unless something above wants to be read first.
{
  const here = document.querySelector("[data-opens-here]");
  const first = document.querySelector("main .messages, main .notice.error, main .error-summary");
  if (here && !first && !location.hash && matchMedia("(max-width: 45rem)").matches) here.scrollIntoView({ block: "start" });
}

// A long list of boxes gets a field that leaves those with the words that are typed. What is ticked stays in sight.
for (const list of document.querySelectorAll(".field fieldset > div[id]")) {
  const rows = [...list.children].filter((row) => row.querySelector('input[type="checkbox"]'));
  if (rows.length < 13) continue;
  const find = document.createElement("input");
  const label = document.createElement("label");
  const told = document.createElement("div");
  Object.assign(find, { type: "search", id: `${list.id}_find`, autocomplete: "off" });
  Object.assign(label, { htmlFor: find.id, textContent: "Find in this list", className: "small" });
  Object.assign(told, { className: "hint", role: "status" });
  list.before(label, find, told);
  const narrow = () => {
    const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !row.querySelector("input").checked && !words.every((word) => text.includes(word));
    }
    told.textContent = words.length ? `${rows.filter((row) => !row.hidden).length} of ${rows.length} shown` : "";
  };
  find.addEventListener("input", narrow);
  // Enter would send the form.
  find.addEventListener("keydown", (event) => {
    if (event.key === "Enter") event.preventDefault();
  });
}
