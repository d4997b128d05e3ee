// What this phone knows of its records and photos, and of the last exchange.
import { withStores } from "../store/db.js";
import { readKeys } from "../store/local_db.js";
import { countWaiting, countWaitingPhotos } from "../store/waiting.js";
import { session } from "./session.js";

const KEYS = [
  ...["device_id", "dev_seq", "device_name", "last_contact_at", "is_wifi_only"],
  "log_doubt",
];

/** The stores that `countIn` reads. */
export const COUNTED = ["events", "photos", "meta"];

/**
 * All counts of one moment; inside a transaction of the caller.
 * @param {Stores} stores
 * @returns {Promise<StoredStatus>}
 */
export async function countIn(stores) {
  const [waiting, photos, meta] = await Promise.all([
    countWaiting(stores),
    countWaitingPhotos(stores),
    readKeys(stores.meta, KEYS),
  ]);
  const { dev_seq: created = 0, ...named } = meta;
  const on_server = Math.max(0, created - waiting.unsent);
  return { ...waiting, created, on_server, photos, ...named };
}

/**
 * What the screens may tell: counts, last contact, photos. `counted` is what was counted just now,
 * where that was.
 * @param {StoredStatus} [counted]
 * @returns {Promise<SyncStatus>}
 */
export async function status(counted) {
  const now = counted ?? (await withStores(COUNTED, "readonly", countIn));
  return { ...now, last_result: session.lastResult };
}
