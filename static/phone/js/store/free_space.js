// Room on a full phone: what is given up, and in which order, so that a record can be kept.
import { ask, withStores } from "./db.js";

const KEPT_PHOTO_DAYS = 90;
/**
 * What is kept in reserve, by its key: for records, and for what the server says of them. A phone
 * that cannot write down an acknowledgement would offer the same records for ever.
 */
const RESERVES = [
  { key: "reserve", bytes: 2_000_000, roomBytes: 50_000_000 },
  { key: "reserve_for_sending", bytes: 500_000, roomBytes: 2_000_000 },
];
// What one call for chance gives at most (Web Cryptography, getRandomValues).
const MAX_RANDOM_BYTES = 65_536;
const TIDY_MS = 500;
export const DAY_MS = 86_400_000;

/**
 * Makes room: of photos that the server has had for `keptDays` or longer only the thumb stays, or
 * nothing when every one must go now: on a full phone even a thumb could not be written.
 * @param {number} nowMs
 * @param {number} [keptDays]
 */
export function prunePhotos(nowMs, keptDays = KEPT_PHOTO_DAYS) {
  const limit = new Date(nowMs - keptDays * DAY_MS).toISOString();
  const range = keptDays ? IDBKeyRange.upperBound(limit) : null;
  return withStores(["photos"], "readwrite", async ({ photos }) => {
    for (const name of await ask(photos.index("sent_at").getAllKeys(range))) {
      const { bytes: _, sent_at: __, ...photo } = keptDays ? await ask(photos.get(name)) : {};
      if (photo.thumb) photos.put({ ...photo, state: "pruned" });
      else photos.delete(name);
    }
  });
}

/**
 * Keeps random bytes in reserve (what repeats would be compressed), to be given up when the phone
 * is full. Not where the browser itself sees little room: the attempt alone may take what the next
 * record needs.
 */
export async function keepReserve() {
  /** @type {StorageEstimate} */
  const room = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  const { quota = NaN, usage = NaN } = room;
  for (const { key, bytes, roomBytes } of RESERVES)
    if (!(quota - usage < roomBytes)) await layReserve(key, bytes).catch(() => {});
}

/**
 * @param {string} key
 * @param {number} size
 */
function layReserve(key, size) {
  return withStores(["meta"], "readwrite", async ({ meta }) => {
    if (await ask(meta.getKey(key))) return;
    const bytes = new Uint8Array(size);
    for (let at = 0; at < size; at += MAX_RANDOM_BYTES)
      crypto.getRandomValues(bytes.subarray(at, at + MAX_RANDOM_BYTES));
    meta.put(bytes, key);
  });
}

/** Whether the browser says that it deletes nothing of this app by itself. */
export const isStorageProtected = async () =>
  navigator.storage?.persisted?.().catch(() => false) ?? false;

/** @param {any} error */
export const isFull = (error) => error?.name === "QuotaExceededError";

const dropSentPhotos = () => prunePhotos(Date.now(), 0);

/** @param {string} key */
const dropReserve = (key) =>
  withStores(["meta"], "readwrite", ({ meta }) => ask(meta.delete(key)));

const dropReserves = [...RESERVES].reverse().map(({ key }) => () => dropReserve(key));

/**
 * Runs `work` for a new record or draft; on a full phone after giving up, in turn, what is least
 * missed. Then the error stands.
 * @template T
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export function withFreeSpace(work) {
  return giveUpUntil(work, [dropSentPhotos, dropOldFileSets, () => dropReserve("reserve")]);
}

/**
 * The same for a photo or a newer reference.
 * @type {typeof withFreeSpace}
 */
export const withSpareSpace = (work) => giveUpUntil(work, [dropSentPhotos, dropOldFileSets]);

/**
 * The same for what the server said: sending is what makes room again, so both reserves may go.
 * @type {typeof withFreeSpace}
 */
export const withRoomToSend = (work) =>
  giveUpUntil(work, [dropSentPhotos, dropOldFileSets, ...dropReserves]);

/**
 * The same where a restored server may lack photos.
 * @type {typeof withFreeSpace}
 */
export const withRoomToResend = (work) => giveUpUntil(work, [dropOldFileSets, ...dropReserves]);

/**
 * @template T
 * @param {() => Promise<T>} work
 * @param {(() => Promise<unknown>)[]} steps
 * @returns {Promise<T>}
 */
async function giveUpUntil(work, steps) {
  for (;;) {
    try {
      return await work();
    } catch (error) {
      const step = isFull(error) && steps.shift();
      if (!step) throw error;
      // One that fails must not keep the next from being tried.
      await step().catch(() => {});
    }
  }
}

/** The worker drops the app's older file sets that no page runs on; it alone knows which. */
async function dropOldFileSets() {
  navigator.serviceWorker.controller?.postMessage({ type: "tidy" });
  await new Promise((resolve) => setTimeout(resolve, TIDY_MS));
}
