// The service worker. `shell`, with the addresses of everything that it takes along, stands before these lines
// (config/phone/pages.py), so that a new version of any of those files is a new worker.
"use strict";

importScripts(...shell.scripts);

// A new version takes over at once: pages are server-made, and the store moves forward by itself.
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
