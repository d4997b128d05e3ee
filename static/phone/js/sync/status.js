// What this phone knows of its records and photos, and of the last exchange.
import { withStores } from "../store/db.js";
import { readKeys } from "../store/local_db.js";
import { countWaitingPhotos } from "../store/photos.js";
import { countWaiting } from "../store/records.js";
import { session } from "./session.js";

const KEYS = [
  ...["device_id", "dev_seq", "device_name", "last_contact_at", "is_wifi_only"],
  "log_doubt",
];

/** All counts of one moment, in one transaction. */
const readCounts = () =>
  withStores(["events", "photos", "meta"], "readonly", async (stores) => {
    const [waiting, photos, meta] = await Promise.all([
      countWaiting(stores),
      countWaitingPhotos(stores),
      readKeys(stores.meta, KEYS),
    ]);
    return { waiting, photos, meta };
  });

/**
 * What the screens may tell: counts, last contact, photos, whether the browser protects the
 * storage.
 * @returns {Promise<SyncStatus>}
 */
export async function status() {
  const isAllowed = navigator.storage?.persisted?.().catch(() => false) ?? false;
  const [{ waiting, photos, meta }, isProtected] = await Promise.all([readCounts(), isAllowed]);
  const { dev_seq: created = 0, ...named } = meta;
  return {
    ...waiting,
    created,
    on_server: Math.max(0, created - waiting.unsent),
    photos,
    protected: isProtected,
    last_result: session.lastResult,
    ...named,
  };
}
