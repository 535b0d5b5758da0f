// What lies on the phone, for pages and for the worker: one IndexedDB database, opened here and nowhere else.
// docs/offline.md says what is in it and who calls what.
"use strict";

(() => {
  const NAME = "minutes-miles";

  // One step from each version to the next; a released step is never changed, only followed by another, and takes
  // nothing away that the one before it uses.
  // tests/browser/test_store.py opens a database of each released version with entries in it.
  const STEPS = [
    (database) => {
      const pages = database.createObjectStore("pages", { keyPath: "url" });
      pages.createIndex("who", "who");
      // Numbered in the order in which they were added, whatever the phone's clock did meanwhile.
      const queue = database.createObjectStore("queue", { keyPath: "number", autoIncrement: true });
      queue.createIndex("key", "key", { unique: true });
      queue.createIndex("who", "who");
      database.createObjectStore("about");
    },
  ];

  let opening = null;
  const ways = {
    upgrade: (database, from, _to, transaction) => {
      for (const step of STEPS.slice(from)) step(database, transaction);
    },
    // Another tab has a newer version of the program: it must not wait for this one.
    blocking: (_current, _next, event) => {
      event.target.close();
      opening = null;
    },
    terminated: () => { opening = null; },
  };

  // Where a newer version was here, in another tab or before the program was put back, the store is as that one left
  // it. Steps only add, so this one goes on with it: what is tapped here waits with the rest.
  const asItIs = (error) => {
    if (error.name !== "VersionError") throw error;
    return idb.openDB(NAME, undefined, ways);
  };

  function open() {
    opening ??= idb.openDB(NAME, STEPS.length, ways).catch(asItIs).catch((error) => {
      opening = null;
      throw error;
    });
    return opening;
  }

  const about = {
    get: async (name) => (await open()).get("about", name),
    put: async (name, value) => (await open()).put("about", value, name),
    remove: async (name) => (await open()).delete("about", name),
  };

  // The person whose things these are: an opaque key that the server signs, empty before the first contact.
  const who = async () => (await about.get("who")) || "";

  // Everything but the queue: entries that aren't sent stay until their person is here again.
  async function clear() {
    const transaction = (await open()).transaction(["pages", "about"], "readwrite");
    await Promise.all([transaction.objectStore("pages").clear(), transaction.objectStore("about").clear(), transaction.done]);
  }

  // A page came for this person: what another one left on this phone goes before anything is shown. Returns whether
  // there was another one.
  async function meet(person) {
    const before = await who();
    if (before === person) return false;
    if (before) await clear();
    await about.put("who", person);
    return Boolean(before);
  }

  // The account was stopped: nothing of this person stays, not even what wasn't sent.
  async function wipe(person) {
    await clear();
    const transaction = (await open()).transaction("queue", "readwrite");
    for await (const cursor of transaction.store.index("who").iterate(person)) cursor.delete();
    await transaction.done;
  }

  // How far the phone's clock is off, in milliseconds to add to it. `served` is the answer's Date header, in whole
  // seconds, cut off; the answer was made somewhere between asking and having it. So each answer says between what
  // bounds it lies, and what was known stays for as long as it can be true: were each answer's middle taken, two taps
  // in one second could change places.
  async function clockMet(served, asked, had) {
    const told = Date.parse(served);
    if (Number.isNaN(told)) return;
    const [least, most] = [told - had, told + 1000 - asked];
    const known = (await about.get("clock"))?.offset ?? (least + most) / 2;
    await about.put("clock", { offset: Math.min(Math.max(known, least), most), met: had });
  }
  const clockOffset = async () => (await about.get("clock"))?.offset ?? 0;

  const page = {
    // {url, at, type, policy, status, day, bytes, iv}: `at` is the server's time in ISO, `bytes` an ArrayBuffer, `iv`
    // what it was encrypted with (none: it is readable), `policy` the page's own policy for content.
    put: async (one) => (await open()).put("pages", { ...one, who: await who() }),
    // The page of the person who was here last; undefined where there is none.
    get: async (url) => {
      const one = await (await open()).get("pages", url);
      return one && one.who === (await who()) ? one : undefined;
    },
    // Everything but the bytes.
    list: async () => {
      const all = await (await open()).getAllFromIndex("pages", "who", await who());
      return all.map(({ bytes, ...rest }) => ({ ...rest, size: bytes.byteLength }));
    },
    forget: async (url) => (await open()).delete("pages", url),
    forgetAll: async () => (await open()).clear("pages"),
  };

  const queue = {
    // {key, ...}: `key` was made on the phone; a second entry of one key is refused (ConstraintError). Returns its number.
    add: async (entry) => (await open()).add("queue", { ...entry, who: await who() }),
    // Of the person who was here last, in the order in which they were added.
    list: async () => {
      const all = await (await open()).getAllFromIndex("queue", "who", await who());
      return all.sort((a, b) => a.number - b.number);
    },
    count: async () => (await open()).countFromIndex("queue", "who", await who()),
    // Put these values into the entry of that key; false if it is no longer there. Read and written at once.
    change: async (key, values) => {
      const transaction = (await open()).transaction("queue", "readwrite");
      const cursor = await transaction.store.index("key").openCursor(key);
      if (cursor) await cursor.update({ ...cursor.value, ...values, key, number: cursor.value.number, who: cursor.value.who });
      await transaction.done;
      return Boolean(cursor);
    },
    // False if it was not there.
    remove: async (key) => {
      const transaction = (await open()).transaction("queue", "readwrite");
      const cursor = await transaction.store.index("key").openCursor(key);
      if (cursor) await cursor.delete();
      await transaction.done;
      return Boolean(cursor);
    },
  };

  self.phoneStore = { NAME, VERSION: STEPS.length, open, about, who, meet, clear, wipe, clockMet, clockOffset, page, queue };
})();
