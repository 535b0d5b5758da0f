// Messages that the program sends to this device while no page of it is open; the worker runs this
// (config/phone/shell.py). What comes holds no student's name: schedule/notices/wording.py.
"use strict";

const saidBy = "Minutes & Miles";

// The page that a message opens: one of ours, whatever was sent.
const pageOf = (path) => {
  const address = new URL(typeof path === "string" ? path : "/", self.location.origin);
  return address.origin === self.location.origin ? address.href : `${self.location.origin}/`;
};

const read = (data) => {
  try {
    return data?.json() ?? {};
  } catch {
    return {};
  }
};

self.addEventListener("push", (event) => {
  const told = read(event.data);
  // Browsers want something shown for every message; the same tag replaces what it shows already.
  event.waitUntil(
    self.registration.showNotification(told.title || saidBy, {
      body: told.body || "",
      tag: told.tag || "",
      icon: "/static/icons/192.png",
      data: { page: pageOf(told.path) },
    }),
  );
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const page = event.notification.data?.page || pageOf("/");
  event.waitUntil(
    (async () => {
      const open = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
      const there = open.find((one) => one.url.split("#")[0] === page);
      return there ? there.focus() : self.clients.openWindow(page);
    })(),
  );
});
