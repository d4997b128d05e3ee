// The page's side of the worker: registers it, and moves to a new version only when nothing is
// open. Loaded by the page itself, so that a fault in the app cannot keep its repair away.

const BUILD = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "source";
const TIDY_AFTER_MS = 3000;
let isSwitching = false;
let isTouched = false;

/** Moves to the waiting version and loads the page again. Call it with no inspection open. */
export async function switchVersion() {
  const waiting = (await navigator.serviceWorker?.getRegistration("/"))?.waiting;
  if (!waiting) return;
  isSwitching = true;
  waiting.postMessage({ type: "switch" });
}

async function link() {
  const worker = navigator.serviceWorker;
  if (!worker) return;
  worker.addEventListener("controllerchange", () => {
    // Not at the very first visit, when a page without worker gets one.
    if (isSwitching) location.reload();
  });
  const registration = await worker.register("/sw.js", { scope: "/", updateViaCache: "none" });
  // A cold start: drafts are on the disk and nobody has begun to tap yet.
  if (registration.waiting && worker.controller && !isTouched) await switchVersion();
  // Later: the start is not slowed, and a tab closed just before no longer counts.
  setTimeout(() => registration.active?.postMessage({ type: "tidy" }), TIDY_AFTER_MS);
  registration.addEventListener("updatefound", () => watch(registration.installing));
}

/**
 * Tells the app with the event "qcapp-version" on the document that a new version waits.
 * @param {ServiceWorker | null} installing
 */
function watch(installing) {
  installing?.addEventListener("statechange", () => {
    const isUpdate = installing.state === "installed" && navigator.serviceWorker.controller;
    if (isUpdate) document.dispatchEvent(new Event("qcapp-version"));
  });
}

// Held as long as this page lives: the worker keeps the files of the builds in use.
navigator.locks?.request(`qcapp-${BUILD}`, { mode: "shared" }, () => new Promise(() => {}));
addEventListener(
  "pointerdown",
  () => {
    isTouched = true;
  },
  { once: true },
);
// Without a network the registration fails and the worker that is there goes on.
link().catch(() => {});
