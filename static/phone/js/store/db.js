// The one database of the phone. Everything goes through withStores, which resolves only when the
// transaction is complete, rejects when it is aborted (that is how "disk full" arrives), and opens
// the database once more when the browser has dropped the connection. What goes wrong is told by
// the error's name; its words are not_saved.NAME in words/.

const NAME = "qcapp";
const VERSION = 2;
const OPEN_TIMEOUT_MS = 4000;

/**
 * Records must survive a power cut: the browser waits for the disk before `complete`.
 * @type {IDBTransactionOptions}
 */
export const STRICT = { durability: "strict" };

/** @type {Promise<IDBDatabase> | null} */
let opening = null;

/**
 * The promised result of one request. Await nothing else inside a transaction: it would end.
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * Visits every row of a cursor; `visit` may change or delete it.
 * @param {IDBRequest<IDBCursorWithValue | null>} request
 * @param {(cursor: IDBCursorWithValue) => void} visit
 * @returns {Promise<void>}
 */
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

/**
 * The open database; the same one until it is lost. Gives up after two tries of 4 s.
 * @returns {Promise<IDBDatabase>}
 */
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

/** @returns {Promise<IDBDatabase>} */
function openOnce() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    let isLate = false;
    const timer = setTimeout(() => {
      isLate = true;
      reject(new DOMException("", "TimeoutError"));
    }, OPEN_TIMEOUT_MS);
    request.onupgradeneeded = ({ oldVersion }) => {
      // It is at work and will end: with many records not within the time of a mere opening.
      clearTimeout(timer);
      upgrade(/** @type {IDBTransaction} */ (request.transaction), oldVersion);
    };
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

/**
 * Brings the database from the version found (0: none) to VERSION, one `if` a version, in the one
 * transaction of the opening: killed before its end, the older version is there as it was. Stores
 * and indexes only: records are never rewritten, and a full phone has room for it.
 * @param {IDBTransaction} transaction
 * @param {number} from
 */
function upgrade(transaction, from) {
  if (from < 1) makeStores(transaction.db);
  if (from < 2) addProjection(transaction);
}

/** @param {IDBDatabase} db */
function makeStores(db) {
  db.createObjectStore("meta");
  db.createObjectStore("reference");
  db.createObjectStore("drafts", { keyPath: "key" });
  const events = db.createObjectStore("events", { keyPath: "id" });
  events.createIndex("key", "key");
  events.createIndex("state", "state");
  events.createIndex("captured_at", "event.captured_at");
  events.createIndex("batch", "event.batch");
  events.createIndex("photo", "event.photos", { multiEntry: true });
  // In the order of their making: ids begin with the phone's clock, which may have been set back.
  events.createIndex("turn", ["state", "event.dev_seq"]);
  const photos = db.createObjectStore("photos", { keyPath: "sha256" });
  photos.createIndex("state", "state");
  photos.createIndex("sent_at", "sent_at");
}

/**
 * Version 2: what each batch knows of its stoves, so that no list reads every record of a batch
 * (projection.js). `turn` begins with the state and counts as well.
 * @param {IDBTransaction} transaction
 */
function addProjection(transaction) {
  const stoves = transaction.db.createObjectStore("stoves", { keyPath: ["batch", "key"] });
  stoves.createIndex("key", "key");
  transaction.db.createObjectStore("stale");
  const events = transaction.objectStore("events");
  events.deleteIndex("batch");
  events.deleteIndex("state");
}

/** @param {IDBDatabase} db */
function watch(db) {
  // A newer app in another tab needs the door free; the page says that it must be loaded again.
  db.onversionchange = () => {
    db.close();
    dropConnection();
    document.dispatchEvent(new Event("qcapp-newer-version"));
  };
  db.onclose = dropConnection;
  return db;
}

function dropConnection() {
  opening = null;
}

/**
 * Runs `work({name: objectStore, ...})` in one transaction and gives its value once the
 * transaction is complete. `work` may be async but may await only `ask(...)`; when it throws,
 * nothing of it is kept. Rejects with QuotaExceededError when the phone is full.
 * @template T
 * @param {string[]} names
 * @param {"readonly" | "readwrite"} mode
 * @param {(stores: Stores) => T | Promise<T>} work
 * @param {IDBTransactionOptions} [options]
 * @returns {Promise<T>}
 */
export async function withStores(names, mode, work, options = {}) {
  try {
    return await runOnce(names, mode, work, options);
  } catch (error) {
    if (!isConnectionLost(error)) throw error;
    dropConnection();
    return runOnce(names, mode, work, options);
  }
}

/** @param {any} error */
function isConnectionLost(error) {
  return ["InvalidStateError", "UnknownError", "AbortError"].includes(error?.name);
}

/**
 * @template T
 * @param {string[]} names
 * @param {IDBTransactionMode} mode
 * @param {(stores: Stores) => T | Promise<T>} work
 * @param {IDBTransactionOptions} options
 * @returns {Promise<T>}
 */
async function runOnce(names, mode, work, options) {
  const db = await openDb();
  const transaction = db.transaction(names, mode, options);
  const finished = new Promise((resolve) => {
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
    await finished;
    // A full disk shows in the transaction; its requests only say "aborted".
    throw transaction.error ?? error;
  }
  const failure = await finished;
  if (failure) throw failure;
  return value;
}
