// Passkeys: a form with data-passkey hands what the server asks to the browser, and its answer back in a hidden field.
"use strict";

(() => {
  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0));
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  const listed = (all) => (all ?? []).map((one) => ({ ...one, id: bytes(one.id) }));

  async function make(options) {
    const publicKey = {
      ...options,
      challenge: bytes(options.challenge),
      user: { ...options.user, id: bytes(options.user.id) },
      excludeCredentials: listed(options.excludeCredentials),
    };
    const made = await navigator.credentials.create({ publicKey });
    const { clientDataJSON, attestationObject } = made.response;
    return answer(made, { clientDataJSON: text(clientDataJSON), attestationObject: text(attestationObject) });
  }

  async function use(options) {
    const publicKey = {
      ...options,
      challenge: bytes(options.challenge),
      allowCredentials: listed(options.allowCredentials),
    };
    const used = await navigator.credentials.get({ publicKey });
    const { clientDataJSON, authenticatorData, signature, userHandle } = used.response;
    return answer(used, {
      clientDataJSON: text(clientDataJSON),
      authenticatorData: text(authenticatorData),
      signature: text(signature),
      userHandle: userHandle ? text(userHandle) : null,
    });
  }

  const answer = (made, response) => ({ id: made.id, rawId: text(made.rawId), type: made.type, response });

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const problem = form.querySelector("[data-passkey-problem]");
    const button = form.querySelector("[data-passkey-button]");
    if (!self.PublicKeyCredential) {
      problem.hidden = false;
      continue;
    }
    button.hidden = false;
    button.addEventListener("click", async (event) => {
      event.preventDefault();
      problem.hidden = true;
      try {
        const options = JSON.parse(form.dataset.options);
        const done = await (form.dataset.passkey === "make" ? make(options) : use(options));
        form.elements.passkey.value = JSON.stringify(done);
        form.requestSubmit();
      } catch {
        problem.hidden = false;
        problem.focus();
      }
    });
  }
})();
