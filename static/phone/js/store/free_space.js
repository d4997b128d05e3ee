// Room on a full phone: what is given up, and in which order, so that a record can be kept.
import { ask, withStores } from "./db.js";

const KEPT_PHOTO_DAYS = 90;
const RESERVE_BYTES = 2_000_000;
const MUCH_ROOM_BYTES = 50_000_000;
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
 * Keeps 2 MB of random bytes in reserve (what repeats would be compressed), to be given up for a
 * record. Not where the browser itself sees little room: the attempt alone may take what the next
 * record needs.
 */
export async function keepReserve() {
  /** @type {StorageEstimate} */
  const room = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  const { quota = NaN, usage = NaN } = room;
  if (quota - usage < MUCH_ROOM_BYTES) return;
  await withStores(["meta"], "readwrite", async ({ meta }) => {
    if (await ask(meta.getKey("reserve"))) return;
    const bytes = new Uint8Array(RESERVE_BYTES);
    for (let at = 0; at < RESERVE_BYTES; at += MAX_RANDOM_BYTES)
      crypto.getRandomValues(bytes.subarray(at, at + MAX_RANDOM_BYTES));
    meta.put(bytes, "reserve");
  }).catch(() => {});
}

/**
 * Runs `work`; on a full phone after giving up, in turn, what is least missed. Then the error
 * stands.
 * @template T
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function withFreeSpace(work) {
  const steps = [() => prunePhotos(Date.now(), 0), dropOldFileSets, dropReserve];
  for (;;) {
    try {
      return await work();
    } catch (/** @type {any} */ error) {
      const step = error.name === "QuotaExceededError" && steps.shift();
      if (!step) throw error;
      // One that fails must not keep the next from being tried.
      await step().catch(() => {});
    }
  }
}

const dropReserve = () =>
  withStores(["meta"], "readwrite", ({ meta }) => ask(meta.delete("reserve")));

/** The worker drops the app's older file sets that no page runs on; it alone knows which. */
async function dropOldFileSets() {
  navigator.serviceWorker.controller?.postMessage({ type: "tidy" });
  await new Promise((resolve) => setTimeout(resolve, TIDY_MS));
}
