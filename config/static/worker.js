// The service worker: pages from the network, and without it from what the phone keeps. `shell`, with the addresses
// of everything that it takes along, stands before these lines (config/phone/pages.py), so that a new version of any
// of those files is a new worker.
"use strict";

importScripts(...shell.scripts);

const FILES = "minutes-miles-files";
// How long a page may take before the kept one is shown instead.
const PATIENCE = 4000;
// Today's pages are kept anew after so long, those of other days after the second.
const FRESH = 10 * 60_000, FRESH_LATER = 3 * 3600_000;
// Of today's pages those that say what was logged and driven: kept anew as soon as something was sent.
const TOLD = /^\/(day|log|data)\//;
const HEADER = shell.header;

// ---- the key: here and in open pages, nowhere else -------------------------------------------------------------

let key = null;

async function keyAtHand() {
  if (key) return key;
  const pages = await self.clients.matchAll({ type: "window" });
  key = await new Promise((found) => {
    let waiting = pages.length;
    if (!waiting) found(null);
    setTimeout(() => found(null), 1000);
    for (const one of pages) {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = ({ data }) => {
        waiting -= 1;
        if (data) found(data);
        else if (!waiting) found(null);
      };
      one.postMessage({ ask: "key" }, [port2]);
    }
  });
  return key;
}

// ---- its life --------------------------------------------------------------------------------------------------

// Its own files, the pages that stand in, and the manual as anyone reads it: nobody's menu is on it.
async function program() {
  const files = await caches.open(FILES);
  await files.addAll([...shell.files, ...Object.values(shell.pages)]);
  await files.addAll(shell.manual.addresses.map((one) => new Request(one, { credentials: "omit" })));
}

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    await program().catch(async (error) => {
      await tell({ noProgram: error.name });
      throw error;
    });
    // A new version takes over at once: pages are server-made, and the store moves forward by itself.
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const files = await caches.open(FILES);
    const now = new Map(shell.files.map((one) => [new URL(one, self.location).pathname, new URL(one, self.location).search]));
    for (const one of await files.keys()) {
      const { pathname, search } = new URL(one.url);
      if (now.has(pathname) && now.get(pathname) !== search) await files.delete(one);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && url.pathname === shell.addresses.sign_out) event.respondWith(signOut(request));
  else if (request.method !== "GET") event.waitUntil(phoneStore.about.put("phone-changed", Date.now()).catch(() => {}));
  else if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url));
  else if (request.mode === "navigate") event.respondWith(page(request, url));
});

// ---- files: an address with a digest never changes its content --------------------------------------------------

async function file(request, url) {
  const files = await caches.open(FILES);
  const kept = url.search ? await files.match(request) : undefined;
  if (kept) return kept;
  try {
    const answer = await fetch(request);
    // Without room it isn't kept, and there all the same.
    if (answer.ok && answer.type === "basic") await files.put(request, answer.clone()).catch(() => {});
    return answer;
  } catch (error) {
    // A kept page of an earlier version asks for its own files: those of now are the next best.
    const other = await files.match(request, { ignoreSearch: true });
    if (other) return other;
    throw error;
  }
}

// ---- pages -----------------------------------------------------------------------------------------------------

const NONE = Symbol("no answer in time");
const after = (milliseconds) => new Promise((done) => setTimeout(() => done(NONE), milliseconds));

async function page(request, url) {
  const asked = Date.now();
  const coming = fetch(request).then(
    async (answer) => {
      await phoneStore.clockMet(answer.headers.get("date") || "", asked, Date.now()).catch(() => {});
      return answer;
    },
    (error) => error,
  );
  const first = await Promise.race([coming, after(PATIENCE)]);
  if (first instanceof Response) return first;
  const kept = (await keptPage(url, first === NONE ? "slow" : "none")) ?? (await manualPage(url));
  if (kept) return kept;
  const later = await coming;
  return later instanceof Response ? later : shellPage(shell.pages.none);
}

async function manualPage(url) {
  return shell.manual.addresses.includes(url.pathname) ? (await caches.open(FILES)).match(url.pathname) : undefined;
}

async function shellPage(address) {
  const found = await (await caches.open(FILES)).match(address);
  return found ?? Response.error();
}

// Today by the phone's own clock: how a page without a date is kept.
function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

// An address without its teacher, and the teacher: pages of a day that somebody covers link to each other with and
// without, and a phone keeps one teacher's days.
function apart(address) {
  const url = new URL(address, self.location);
  const teacher = url.searchParams.get("teacher");
  url.searchParams.delete("teacher");
  return [url.pathname + url.search, teacher];
}

async function keptAt(url) {
  const { day, home } = shell.addresses;
  const [asked, teacher] = apart([day, home].includes(url.pathname) ? `${day}${today()}/` : url);
  const list = await phoneStore.about.get("phone-list");
  const found = list?.days.flatMap((one) => one.addresses).find((one) => {
    const [address, whose] = apart(one);
    return address === asked && (!teacher || !whose || teacher === whose);
  });
  return found && phoneStore.page.get(found);
}

async function keptPage(url, signal) {
  const one = await keptAt(url);
  if (!one) return null;
  let bytes = one.bytes;
  if (one.iv) {
    if (!(await keyAtHand())) return shellPage(shell.pages.locked);
    bytes = await phonePasscode.unseal(key, one, one.url);
  }
  const told = `<div class="notice info kept-page" role="status" data-kept-at="${one.at}" data-kept-signal="${signal}"${one.iv ? "" : " data-kept-initials"}></div>`;
  const text = new TextDecoder().decode(bytes).replace(/<main id="main"[^>]*>/, (main) => main + told);
  return new Response(text, { status: one.status, headers: { "Content-Type": one.type, "Content-Security-Policy": one.policy } });
}

// ---- keeping ---------------------------------------------------------------------------------------------------

async function ask(address) {
  const sealing = await phonePasscode.isSet();
  if (sealing && !(await keyAtHand())) return null;
  const asked = Date.now();
  const answer = await fetch(address, { headers: { [HEADER]: sealing ? "names" : "initials" }, credentials: "same-origin" });
  await phoneStore.clockMet(answer.headers.get("date") || "", asked, Date.now());
  return answer.ok && !answer.redirected ? answer : null;
}

// The page itself says whose it is: what came for somebody else, or for nobody, is not kept.
async function keepPage(address, day) {
  const answer = await ask(address);
  if (!answer) return;
  const text = await answer.text();
  const person = await phoneStore.who();
  if (/<meta name="person" content="([^"]*)">/.exec(text)?.[1] !== person) return;
  const plain = new TextEncoder().encode(text).buffer;
  const sealed = (await phonePasscode.isSet()) ? await phonePasscode.seal(await keyAtHand(), plain, address) : { bytes: plain };
  const { headers, status } = answer;
  await phoneStore.page.put({
    url: address, day, status, type: headers.get("content-type"), policy: headers.get("content-security-policy"),
    at: new Date(headers.get("date") || Date.now()).toISOString(), ...sealed,
  });
}

async function keep(anew) {
  const sealing = await phonePasscode.isSet();
  if (sealing && !(await keyAtHand())) return;
  const answer = await ask(shell.addresses.phone_list);
  if (!answer) return standing();
  const list = await answer.json();
  if (list.person !== (await phoneStore.who())) return;
  await phoneStore.about.put("phone-list", list);
  const before = new Map((await phoneStore.page.list()).map((one) => [one.url, one]));
  const changed = (await phoneStore.about.get("phone-changed")) ?? 0;
  const wanted = new Set(list.days.flatMap((one) => one.addresses));
  for (const url of before.keys()) if (!wanted.has(url)) await phoneStore.page.forget(url);
  for (const [number, day] of list.days.entries()) {
    for (const address of day.addresses) {
      const kept = before.get(address);
      const at = kept ? Date.parse(kept.at) : 0;
      const said = !number && TOLD.test(address) && at < changed;
      if (anew || said || Date.now() - at > (number ? FRESH_LATER : FRESH)) await keepPage(address, day.date);
    }
    await tell({ kept: day.date });
  }
  await phoneStore.about.put("phone-kept", { at: new Date().toISOString() });
  await tell({ kept: "all" });
}

async function tell(what) {
  // Pages of before the worker, too: the first one that it is said to is the one that brought it.
  for (const one of await self.clients.matchAll({ type: "window", includeUncontrolled: true })) one.postMessage(what);
}

// ---- leaving ---------------------------------------------------------------------------------------------------

async function forget() {
  key = null;
  await phoneStore.clear();
}

async function signOut(request) {
  await forget();
  await tell({ locked: true });
  try {
    return await fetch(request);
  } catch {
    return shellPage(shell.pages.none);
  }
}

// The sign-in ended: by itself, or because the account was stopped. The second takes everything along.
async function standing() {
  const person = await phoneStore.who();
  if (!person) return;
  const answer = await fetch(shell.addresses.phone_standing, { method: "POST", body: new URLSearchParams({ person }) });
  if (!answer.ok || !(await answer.json()).stopped) return;
  key = null;
  await phoneStore.wipe(person);
  await tell({ locked: true });
}

// ---- what pages ask for ----------------------------------------------------------------------------------------

const ASKED = {
  key: async () => key,
  hold: async (data) => { key = data.key; return true; },
  lock: async () => { key = null; await tell({ locked: true }); return true; },
  // One at a time; a second wish while one is under way is already met.
  keep: (data) => navigator.locks.request("phone-keep", { ifAvailable: true }, async (lock) => {
    if (lock) await keep(data.anew);
    return Boolean(lock);
  }),
  standing,
};

self.addEventListener("message", (event) => {
  const asked = ASKED[event.data?.ask];
  if (!asked) return;
  event.waitUntil((async () => {
    const said = await asked(event.data).catch((error) => ({ failed: error.name }));
    event.ports[0]?.postMessage(said);
  })());
});
