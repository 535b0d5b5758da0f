// The pages about what lies on the phone: what is kept, the passcode, and the two that stand in without signal.
"use strict";

(() => {
  const at = (id) => document.getElementById(id);
  const show = (id, shown) => { if (at(id)) at(id).hidden = !shown; };
  const on = (id, event, act) => at(id)?.addEventListener(event, act);
  const day = new Intl.DateTimeFormat("en-US", { weekday: "long", month: "long", day: "numeric" });
  const moment = new Intl.DateTimeFormat("en-US", { weekday: "short", hour: "numeric", minute: "2-digit" });
  const UNUSED_DAYS = 7;
  const NO_ROOM = "This phone has no room left, so not every page is kept. Make room, then bring it up to date.";
  const NOT_ALL = "Not every page came. Bring it up to date again when the signal is better.";

  function say(words) {
    if (at("phone-said")) at("phone-said").textContent = words;
  }

  function problem(words) {
    show("phone-problem", Boolean(words));
    at("phone-problem").textContent = words;
  }

  document.addEventListener("phone-no-program", ({ detail }) => at("phone-problem") && problem(detail));

  const seconds = (count) => (count < 60 ? `${count} seconds` : `${Math.ceil(count / 60)} minutes`);

  function told(error) {
    const later = error.seconds ? ` The next try is in ${seconds(error.seconds)}.` : "";
    const words = {
      TooShort: `Passcode: use at least ${error.least} characters.`,
      Wait: `Too many wrong tries. Try again in ${seconds(error.seconds)}.`,
      Wrong: `That isn’t the passcode. After ${error.left} more wrong ${error.left === 1 ? "try" : "tries"} what is kept here goes; what you tapped stays.${later}`,
      Gone: "Too many wrong tries: what was kept here is gone. With signal it is loaded again; what you tapped is still there.",
    };
    if (!(error.name in words)) throw error;
    problem(words[error.name]);
  }

  // Midday, so that no time zone makes another date of it.
  const dateWords = (date) => day.format(new Date(`${date}T12:00`));

  function row(one, pages) {
    const line = document.createElement("li");
    const box = document.createElement("div");
    const link = document.createElement("a");
    const sheet = pages.find((each) => each.url === one.addresses[0]);
    link.href = one.addresses[0];
    link.textContent = dateWords(one.date);
    const more = document.createElement("div");
    more.className = "quiet small";
    const there = one.addresses.filter((address) => pages.some((each) => each.url === address)).length;
    more.textContent = sheet ? `${there} of ${one.addresses.length} pages, as of ${moment.format(new Date(sheet.at))}` : "Not there yet";
    box.append(sheet ? link : document.createTextNode(link.textContent), more);
    line.append(box);
    return line;
  }

  async function days() {
    const [pages, list] = [await phoneStore.page.list(), await phoneStore.about.get("phone-list")];
    const any = Boolean(list?.days.length && pages.length);
    show("phone-kept", any);
    show("phone-nothing", !any);
    at("phone-days")?.replaceChildren(...(any ? list.days.map((one) => row(one, pages)) : []));
    if (any && at("phone-how")) {
      const size = pages.reduce((sum, one) => sum + one.size, 0);
      at("phone-how").textContent = `${pages.length} ${pages.length === 1 ? "page" : "pages"}, ${(size / 1e6).toFixed(1)} MB, ${pages[0].iv ? "encrypted" : "readable: students by their initials"}.`;
    }
  }

  async function persisted() {
    const last = new Date(Date.now() + UNUSED_DAYS * 86_400_000);
    at("phone-persisted").textContent = (await navigator.storage?.persisted?.())
      ? "The browser has promised not to clear this by itself."
      : `The browser may clear this by itself, some after ${UNUSED_DAYS} days unused: open the program before ${day.format(last)}, or put it on the home screen.`;
  }

  async function settings() {
    const [keeping, set] = [await phonePage.isKeeping(), await phonePasscode.isSet()];
    const open = set && Boolean(await phonePage.ask("key"));
    show("phone-keep", !keeping);
    show("phone-anew", keeping);
    show("phone-stop", keeping);
    show("passcode", keeping);
    show("passcode-off", !set);
    show("passcode-on", set);
    show("passcode-open", set && !open);
    show("passcode-new", !set);
    show("passcode-set", set);
    show("passcode-lock", open);
    await Promise.all([days(), persisted()]);
  }

  async function keepAnew(words) {
    if (!navigator.onLine) {
      say("No signal: it is brought up to date when there is some.");
      return;
    }
    say("Loading the pages.");
    const said = await phonePage.keep(true);
    if (said?.failed) problem(said.failed === "QuotaExceededError" ? NO_ROOM : NOT_ALL);
    say(said?.failed ? "" : words);
    await settings();
  }

  on("phone-keep", "click", async () => {
    await phoneStore.about.put("phone-keeping", true);
    await navigator.storage?.persist?.();
    await keepAnew("Kept.");
  });
  on("phone-anew", "click", () => keepAnew("Up to date."));
  on("phone-stop", "click", async () => {
    await phoneStore.about.put("phone-keeping", false);
    await phonePasscode.remove();
    await phonePage.ask("lock");
    say("Nothing is kept here any more. What isn’t sent yet still is.");
    await settings();
  });

  on("passcode-new", "submit", async (event) => {
    event.preventDefault();
    problem("");
    const [one, two] = [at("passcode-one"), at("passcode-two")];
    if (one.value !== two.value) {
      problem("Once more: the two passcodes differ. Type both again.");
      return;
    }
    try {
      await phonePage.hold(await phonePasscode.choose(one.value));
    } catch (error) {
      told(error);
      return;
    }
    one.value = two.value = "";
    await settings();
    await keepAnew("The passcode is set, and pages are kept with names.");
  });

  on("passcode-remove", "click", async () => {
    await phonePasscode.remove();
    await phonePage.ask("lock");
    await settings();
    await keepAnew("The passcode is removed. Students stand by their initials.");
  });
  on("passcode-lock", "click", async () => {
    await phonePage.ask("lock");
    say("Locked.");
    await settings();
  });

  on("passcode-open", "submit", async (event) => {
    event.preventDefault();
    problem("");
    const typed = at("passcode-now");
    try {
      await phonePage.hold(await phonePasscode.unlock(typed.value));
    } catch (error) {
      typed.select();
      told(error);
      return;
    }
    typed.value = "";
    if (!at("phone")) location.reload();
    else await keepAnew("Open, and up to date.");
  });

  on("load-again", "click", () => location.reload());
  document.addEventListener("phone-kept", () => days());

  phonePage.started.then(async () => {
    if (at("no-signal")) await days();
    if (!at("phone")) return;
    if (!self.isSecureContext || !navigator.serviceWorker) {
      problem("This browser keeps nothing here: it needs https:// and a window that isn’t private.");
      at("phone").replaceChildren(at("phone-problem"));
    } else await settings();
    at("phone").hidden = false;
  });
})();
