// Room on a full phone: what is given up, and in which order, so that a record can be kept.
import { ask, isFull, withStores } from "./db.js";
import { dropSentRecords } from "./sent_records.js";

const KEPT_PHOTO_DAYS = 90;
// What is older than the first heals no restored server, for backups are made each day; then what
// no screen of this day tells of.
const KEPT_RECORD_DAYS = [14, 1];
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
  // Every one, also where the clock was set back since.
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
 * is full; gives whether there was no room for them. Not where the browser itself sees little room:
 * the attempt alone may take what the next record needs.
 */
export async function keepReserve() {
  /** @type {StorageEstimate} */
  const room = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  const { quota = NaN, usage = NaN } = room;
  let isMissing = false;
  for (const { key, bytes, roomBytes } of RESERVES)
    if (!(quota - usage < roomBytes))
      await layReserve(key, bytes).catch((error) => {
        isMissing ||= isFull(error);
      });
  return isMissing;
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

const dropSentPhotos = () => prunePhotos(Date.now(), 0);

/** @param {string} key */
const dropReserve = (key) =>
  withStores(["meta"], "readwrite", ({ meta }) => ask(meta.delete(key)));

const dropReserves = () => [...RESERVES].reverse().map(({ key }) => () => dropReserve(key));

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
 * The same for what is worth less than a record: a photo, a newer reference.
 * @template T
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export function withSpareSpace(work) {
  return giveUpUntil(work, [dropSentPhotos, dropOldFileSets]);
}

/**
 * The same for what the server said: sending is what makes room again, so both reserves may go.
 * @template T
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export function withRoomToSend(work) {
  return giveUpUntil(work, [dropSentPhotos, dropOldFileSets, ...dropReserves()]);
}

/**
 * The same when a restored server is to be shown everything again: the photos that it had may be the
 * very ones that it lost.
 * @template T
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export function withRoomToResend(work) {
  return giveUpUntil(work, [dropOldFileSets, ...dropReserves()]);
}

/**
 * After an exchange of a phone on which no reserve can be kept: a part of the records that the
 * server has. Not when a record is to be saved: the browser has the room back only later, and until
 * then a deletion takes some.
 */
export async function giveUpOldRecords() {
  const names = ["meta"];
  if (await withStores(names, "readonly", ({ meta }) => ask(meta.getKey("reserve")))) return;
  for (const days of KEPT_RECORD_DAYS)
    if (await dropSentRecords(new Date(Date.now() - days * DAY_MS).toISOString())) return;
}

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
