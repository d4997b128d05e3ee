// Records that the server has: how long they stay here, and when they go.
import { ask, eachRow, isFull, withStores } from "./db.js";
import { forgetProjection, markStale } from "./stale.js";
import { isWaiting } from "./waiting.js";

// Acknowledged records stay here so that this phone can heal a server restored from a backup.
const KEPT_DAYS = 90;
const KEPT_RECORDS = 5000;
// So many at a time: a browser tidies its files after some megabytes of changes, and only then has
// their room back (measured: 300 records of 6 kB first took 2 to 11 MB, a third part gave 5 back).
const PART = 300;
const DAY_MS = 86_400_000;
const ALL = ["events", "meta", "stoves", "stale"];

/**
 * Deletes what is acknowledged, older than 90 days and beyond the newest 5,000.
 * @param {number} nowMs
 */
export async function pruneRecords(nowMs) {
  try {
    await prune(nowMs, ({ stale }, key) => markStale(stale, key));
  } catch (error) {
    if (!isFull(error)) throw error;
    // To delete must need no room.
    await prune(nowMs, forgetProjection);
  }
}

/**
 * @param {number} nowMs
 * @param {(stores: Stores, key: string | null) => void} noteDeleted
 */
function prune(nowMs, noteDeleted) {
  const limit = new Date(nowMs - KEPT_DAYS * DAY_MS).toISOString();
  return withStores(ALL, "readwrite", async (stores) => {
    const { events } = stores;
    let spare = (await ask(events.count())) - KEPT_RECORDS;
    if (spare <= 0) return;
    const old = events.index("captured_at").openCursor(IDBKeyRange.upperBound(limit, true));
    await eachRow(old, (cursor) => {
      if (spare <= 0 || isWaiting(cursor.value)) return;
      cursor.delete();
      noteDeleted(stores, cursor.value.key);
      spare -= 1;
    });
  });
}

/**
 * Deletes the oldest part of what the server has and was recorded until a UTC time; gives how many.
 * What the server held back stays, because the person has to see why; so does everything while a
 * restored server is to be shown it again.
 * @param {string} until
 * @returns {Promise<number>}
 */
export function dropSentRecords(until) {
  return withStores(ALL, "readwrite", async (stores) => {
    const { events, meta } = stores;
    if (await ask(meta.get("forgetting"))) return 0;
    let dropped = 0;
    const old = events.index("captured_at").openCursor(IDBKeyRange.upperBound(until));
    await eachRow(old, (cursor) => {
      if (dropped === PART || cursor.value.state !== "sent") return;
      cursor.delete();
      dropped += 1;
    });
    if (dropped > 0) forgetProjection(stores);
    return dropped;
  });
}
