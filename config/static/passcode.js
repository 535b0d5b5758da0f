// Encrypting what lies on the phone. The key is derived from the passcode, is never written down, can't be taken out
// of the browser's own cryptography, and ends with the last page of the program.
"use strict";

(() => {
  // OWASP Password Storage Cheat Sheet for PBKDF2 with HMAC-SHA-256; kept with the salt, so that it can grow.
  const ROUNDS = 600_000;
  const SALT_BYTES = 16, IV_BYTES = 12;
  const LEAST = 6;
  // Wrong tries that cost nothing, the seconds after the next one (doubled each time), the longest wait, and after
  // how many what is kept goes. Common practice, no source.
  const FREE = 3, FIRST_WAIT = 5, LONGEST_WAIT = 3600, MOST = 10;
  const PLACE = "phone-passcode";
  const encoder = new TextEncoder();

  const random = (length) => crypto.getRandomValues(new Uint8Array(length));

  async function derive(passcode, salt, rounds) {
    const typed = await crypto.subtle.importKey("raw", encoder.encode(passcode.normalize("NFKC")), "PBKDF2", false, ["deriveKey"]);
    return crypto.subtle.deriveKey(
      { name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds },
      typed, { name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"],
    );
  }

  // `what` names what is encrypted (an address), so that nothing can be put in another's place.
  async function seal(key, bytes, what) {
    const iv = random(IV_BYTES);
    const sealed = await crypto.subtle.encrypt({ name: "AES-GCM", iv, additionalData: encoder.encode(what) }, key, bytes);
    return { iv, bytes: sealed };
  }

  const unseal = (key, sealed, what) =>
    crypto.subtle.decrypt({ name: "AES-GCM", iv: sealed.iv, additionalData: encoder.encode(what) }, key, sealed.bytes);

  const isSet = async () => Boolean(await phoneStore.about.get(PLACE));

  // A new passcode: returns its key. What was kept before goes: it was readable, or under another key.
  async function choose(passcode) {
    if (passcode.length < LEAST) throw Object.assign(new Error("short"), { name: "TooShort", least: LEAST });
    const salt = random(SALT_BYTES);
    const key = await derive(passcode, salt, ROUNDS);
    const check = await seal(key, encoder.encode("open"), PLACE);
    await phoneStore.page.forgetAll();
    await phoneStore.about.put(PLACE, { salt, rounds: ROUNDS, check, wrong: 0, until: 0 });
    return key;
  }

  async function remove() {
    await phoneStore.page.forgetAll();
    await phoneStore.about.remove(PLACE);
  }

  const wait = (wrong) => (wrong < FREE ? 0 : Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** (wrong - FREE)));

  // The key, or an error whose name says what is wrong: Wait (with `seconds`), Wrong (with `left`), Gone.
  async function unlock(passcode) {
    return navigator.locks.request("phone-passcode", async () => {
      const kept = await phoneStore.about.get(PLACE);
      if (!kept) throw Object.assign(new Error(), { name: "Gone" });
      const seconds = Math.ceil((kept.until - Date.now()) / 1000);
      if (seconds > 0) throw Object.assign(new Error(), { name: "Wait", seconds: Math.min(seconds, LONGEST_WAIT) });
      // Counted before it is tried: closing the program meanwhile gives no try for nothing.
      const wrong = kept.wrong + 1;
      await phoneStore.about.put(PLACE, { ...kept, wrong, until: Date.now() + wait(wrong) * 1000 });
      const key = await derive(passcode, kept.salt, kept.rounds);
      try {
        await unseal(key, kept.check, PLACE);
      } catch (error) {
        if (error.name !== "OperationError") throw error;
        if (wrong < MOST) throw Object.assign(new Error(), { name: "Wrong", left: MOST - wrong, seconds: wait(wrong) });
        await remove();
        throw Object.assign(new Error(), { name: "Gone" });
      }
      await phoneStore.about.put(PLACE, { ...kept, wrong: 0, until: 0 });
      return key;
    });
  }

  self.phonePasscode = { ROUNDS, LEAST, MOST, isSet, choose, remove, unlock, seal, unseal };
})();
