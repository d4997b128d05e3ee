// The one database of the phone. Everything goes through withStores, which resolves only when the
// transaction is complete, rejects when it is aborted (that is how "disk full" arrives), and opens
// the database once more when the browser has dropped the connection. What goes wrong is told by the error's
// name; its words are not_saved.NAME in words/.

const NAME = "qcapp";
const VERSION = 2;
const OPEN_TIMEOUT_MS = 4000;
const KEPT_PHOTO_DAYS = 90;
const DAY_MS = 86_400_000;
const BALLAST_BYTES = 2_000_000;
const MUCH_ROOM_BYTES = 50_000_000;
// What one call for chance gives at most (Web Cryptography, getRandomValues).
const MOST_CHANCE_BYTES = 65_536;
const TIDY_MS = 500;

/** Records must survive a power cut: the browser waits for the disk before `complete`. */
export const STRICT = { durability: "strict" };

let opening = null;

/** The promised result of one request. Await nothing else inside a transaction: it would end. */
export function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** Visits every row of a cursor; `visit` may change or delete it. */
export function eachRow(request, visit) {
  return new Promise((resolve, reject) => {
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      const cursor = request.result;
      if (!cursor) return resolve();
      visit(cursor);
      cursor.continue();
    };
  });
}

/** The open database; the same one until it is lost. Gives up after two tries of 4 s. */
export function openDb() {
  if (!opening) {
    const mine = openOnce()
      .catch((error) => (error.name === "TimeoutError" ? openOnce() : Promise.reject(error)))
      .catch((error) => {
        if (opening === mine) opening = null;
        throw error;
      });
    opening = mine;
  }
  return opening;
}

function openOnce() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    let isLate = false;
    const timer = setTimeout(() => {
      isLate = true;
      reject(new DOMException("", "TimeoutError"));
    }, OPEN_TIMEOUT_MS);
    request.onupgradeneeded = (event) => upgrade(request, event.oldVersion);
    request.onerror = () => {
      clearTimeout(timer);
      reject(request.error);
    };
    request.onsuccess = () => {
      clearTimeout(timer);
      if (isLate) request.result.close();
      else resolve(watch(request.result));
    };
  });
}

/** New stores and indexes only, one `if` a version; records are never rewritten here. */
function upgrade({ result: db, transaction }, oldVersion) {
  if (oldVersion < 1) {
    db.createObjectStore("meta");
    db.createObjectStore("reference");
    db.createObjectStore("drafts", { keyPath: "key" });
    const events = db.createObjectStore("events", { keyPath: "id" });
    events.createIndex("key", "key");
    events.createIndex("state", "state");
    events.createIndex("captured_at", "event.captured_at");
    events.createIndex("batch", "event.batch");
    events.createIndex("photo", "event.photos", { multiEntry: true });
    const photos = db.createObjectStore("photos", { keyPath: "sha256" });
    photos.createIndex("state", "state");
    photos.createIndex("sent_at", "sent_at");
  }
  // In the order of their making: ids begin with the phone's clock, which may have been set back.
  if (oldVersion < 2)
    transaction.objectStore("events").createIndex("turn", ["state", "event.dev_seq"]);
}

function watch(db) {
  // A newer app in another tab needs the door free; the page says that it must be loaded again.
  db.onversionchange = () => {
    db.close();
    forget();
    document.dispatchEvent(new Event("qcapp-elsewhere"));
  };
  db.onclose = forget;
  return db;
}

function forget() {
  opening = null;
}

/**
 * Runs `work({name: objectStore, ...})` in one transaction and gives its value once the
 * transaction is complete. `work` may be async but may await only `ask(...)`; when it throws,
 * nothing of it is kept. Rejects with QuotaExceededError when the phone is full.
 * @param {string[]} names
 * @param {"readonly"|"readwrite"} mode
 */
export async function withStores(names, mode, work, options = {}) {
  try {
    return await runOnce(names, mode, work, options);
  } catch (error) {
    if (!isConnectionLost(error)) throw error;
    forget();
    return runOnce(names, mode, work, options);
  }
}

function isConnectionLost(error) {
  return ["InvalidStateError", "UnknownError", "AbortError"].includes(error?.name);
}

async function runOnce(names, mode, work, options) {
  const db = await openDb();
  const transaction = db.transaction(names, mode, options);
  const ended = new Promise((resolve) => {
    transaction.oncomplete = () => resolve(null);
    transaction.onabort = () => resolve(transaction.error ?? new DOMException("", "AbortError"));
  });
  const stores = Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)]));
  let value;
  try {
    value = await work(stores);
  } catch (error) {
    try {
      transaction.abort();
    } catch {
      // It has ended by itself already.
    }
    await ended;
    // A full disk shows in the transaction; its requests only say "aborted".
    throw transaction.error ?? error;
  }
  const failure = await ended;
  if (failure) throw failure;
  return value;
}

// --- Room on a full phone

/**
 * Makes room: of photos that the server has had for `keptDays` or longer only the thumb stays, or
 * nothing when every one must go now: on a full phone even a thumb could not be written.
 */
export function prunePhotos(nowMs, keptDays = KEPT_PHOTO_DAYS) {
  const limit = new Date(nowMs - keptDays * DAY_MS).toISOString();
  return withStores(["photos"], "readwrite", async ({ photos }) => {
    for (const name of await ask(
      photos.index("sent_at").getAllKeys(IDBKeyRange.upperBound(limit)),
    )) {
      const { bytes: _, sent_at: __, ...photo } = keptDays ? await ask(photos.get(name)) : {};
      if (photo.thumb) photos.put({ ...photo, state: "pruned" });
      else photos.delete(name);
    }
  });
}

/**
 * Lays aside 2 MB of chance (what repeats would be packed), to be given up for a record. Not where the
 * browser itself sees little room: the attempt alone may take what the next record needs.
 */
export async function layBallast() {
  const { quota, usage } = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  if (quota - usage < MUCH_ROOM_BYTES) return;
  await withStores(["meta"], "readwrite", async ({ meta }) => {
    if (await ask(meta.getKey("ballast"))) return;
    const bytes = new Uint8Array(BALLAST_BYTES);
    for (let at = 0; at < BALLAST_BYTES; at += MOST_CHANCE_BYTES)
      crypto.getRandomValues(bytes.subarray(at, at + MOST_CHANCE_BYTES));
    meta.put(bytes, "ballast");
  }).catch(() => {});
}

/** Runs `work`; on a full phone after giving up, in turn, what is least missed. Then the error stands. */
export async function withRoom(work) {
  const sacrifices = [() => prunePhotos(Date.now(), 0), tidyShells, dropBallast];
  for (;;) {
    try {
      return await work();
    } catch (error) {
      const sacrifice = error.name === "QuotaExceededError" && sacrifices.shift();
      if (!sacrifice) throw error;
      // One that fails must not keep the next from being tried.
      await sacrifice().catch(() => {});
    }
  }
}

const dropBallast = () =>
  withStores(["meta"], "readwrite", ({ meta }) => ask(meta.delete("ballast")));

/** The worker drops the app's older file sets that no page runs on; it alone knows which. */
async function tidyShells() {
  navigator.serviceWorker.controller.postMessage({ type: "tidy" });
  await new Promise((resolve) => setTimeout(resolve, TIDY_MS));
}
