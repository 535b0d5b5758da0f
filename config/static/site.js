// Puts the reader at the error summary of a form that came back, as public design systems advise.
document.querySelector(".error-summary")?.focus();
