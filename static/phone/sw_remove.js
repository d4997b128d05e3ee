// The way out: served as /sw.js it takes the phone app's worker and its file sets off every phone
// at the next visit. Records are in the database and are not touched.
"use strict";

self.addEventListener("install", (event) => event.waitUntil(self.skipWaiting()));
self.addEventListener("activate", (event) => event.waitUntil(leave()));

async function leave() {
  const names = (await caches.keys()).filter((name) => name.startsWith("qcapp-"));
  await Promise.all(names.map((name) => caches.delete(name)));
  await self.registration.unregister();
}
