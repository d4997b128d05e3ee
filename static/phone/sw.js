// Keeps the phone app's files as one set, so that it starts without a network for ever. The server
// fills in the name of the build and the list [[path, SHA-256], ...]. Nothing else is touched:
// calls to the server and the other pages go to the network as if this worker were not there.
"use strict";

const BUILD = "__BUILD__";
const FILES = "__FILES__";
const PREFIX = "qcapp-";
const CACHE = PREFIX + BUILD;
const SHELL = "/phone/";

self.addEventListener("install", (event) => event.waitUntil(keepSet()));
self.addEventListener("activate", (event) =>
  event.waitUntil(dropOldSets().then(() => self.clients.claim())),
);
self.addEventListener("message", (event) => {
  // The page says when it is safe: no inspection is open on it.
  if (event.data?.type === "switch") event.waitUntil(self.skipWaiting());
  if (event.data?.type === "tidy") event.waitUntil(dropOldSets());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin || request.method !== "GET") return;
  const isShell = request.mode === "navigate" && (url.pathname + "/").startsWith(SHELL);
  if (isShell) event.respondWith(answer(CACHE, SHELL, request));
  const build = /^\/static\/([^/]+)\//.exec(url.pathname)?.[1];
  if (build) event.respondWith(answer(PREFIX + build, url.pathname, request));
});

/** All files, each with the right hash, or none: a set mixed of two builds would not start. */
async function keepSet() {
  try {
    const files = await Promise.all(FILES.map(fetchWhole));
    const cache = await caches.open(CACHE);
    await Promise.all(files.map(([path, response]) => cache.put(path, response)));
  } catch (error) {
    await caches.delete(CACHE);
    throw error;
  }
}

async function fetchWhole([path, sha256]) {
  // Past the browser's own cache, which may hold an older file under the same address.
  const response = await fetch(path, { cache: "reload" });
  if (!response.ok || response.redirected) throw new Error(`${path}: answer ${response.status}`);
  const bytes = await response.arrayBuffer();
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const found = Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  if (found !== sha256) throw new Error(`${path}: not the file of build ${BUILD}`);
  const headers = {
    "Content-Type": response.headers.get("Content-Type") ?? "application/octet-stream",
  };
  const policy = response.headers.get("Content-Security-Policy");
  if (policy) headers["Content-Security-Policy"] = policy;
  return [path, new Response(bytes, { headers })];
}

async function answer(cacheName, path, request) {
  const kept = await caches.match(path, { cacheName });
  return kept ?? fetch(request);
}

/**
 * Keeps the sets that open pages still run on; they say so by holding a lock with the set's name.
 */
async function dropOldSets() {
  const old = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== CACHE);
  // A newer worker that waits or is being installed has its set among these.
  if (old.length === 0 || self.registration.waiting || self.registration.installing) return;
  const used = await listUsedSets();
  await Promise.all(
    old.filter((name) => used && !used.includes(name)).map((name) => caches.delete(name)),
  );
}

/** Names of the sets in use; null while a page has not said which one it runs on. */
async function listUsedSets() {
  const windows = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  const phones = windows.filter((client) => new URL(client.url).pathname.startsWith(SHELL));
  const held = self.navigator.locks ? (await self.navigator.locks.query()).held : [];
  const used = held.map((lock) => lock.name).filter((name) => name.startsWith(PREFIX));
  return used.length < phones.length ? null : used;
}
