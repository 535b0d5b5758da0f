// What one tap will log, said on its button: who is ticked as absent isn't present. Without scripts the button says
// how many wait for a log.
"use strict";

(() => {
  function say(form) {
    const boxes = [...form.elements].filter((one) => one.name === "absent");
    if (!boxes.length) return;
    const absent = boxes.filter((one) => one.checked).length;
    const words = `: ${boxes.length - absent} present${absent ? `, ${absent} absent` : ""}`;
    for (const one of form.elements) {
      const said = one.querySelector?.("[data-says]");
      if (said) said.textContent = words;
    }
  }
  document.addEventListener("change", (event) => {
    if (event.target.name === "absent" && event.target.form) say(event.target.form);
  });
  // A browser that goes back may have kept the ticks.
  addEventListener("pageshow", () => document.querySelectorAll('form[data-queue="log"]').forEach(say));
})();
