// The one database of the phone. Everything goes through withStores, which resolves only when the
// transaction is complete, rejects when it is aborted (that is how "disk full" arrives), and opens
// the database once more when the browser has dropped the connection.

const NAME = "qcapp";
const VERSION = 1;
const OPEN_TIMEOUT_MS = 4000;

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
      reject(new DOMException("the database did not open in time: close other tabs", "TimeoutError"));
    }, OPEN_TIMEOUT_MS);
    request.onupgradeneeded = (event) => upgrade(request.result, event.oldVersion);
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

/** New stores only, one `if` a version; records are never rewritten here. */
function upgrade(db, oldVersion) {
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
}

function watch(db) {
  // A newer app in another tab needs the door free; this tab reopens, or is told to reload.
  db.onversionchange = () => {
    db.close();
    forget();
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
    transaction.onabort = () =>
      resolve(transaction.error ?? new DOMException("the transaction was aborted", "AbortError"));
  });
  const stores = Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)]));
  let value;
  try {
    value = await work(stores);
  } catch (error) {
    await abort(transaction, ended);
    // A full disk shows in the transaction; its requests only say "aborted".
    throw transaction.error ?? error;
  }
  const failure = await ended;
  if (failure) throw failure;
  return value;
}

async function abort(transaction, ended) {
  try {
    transaction.abort();
  } catch {
    // It has ended by itself already.
  }
  await ended;
}
