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
