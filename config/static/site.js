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
