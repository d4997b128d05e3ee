// What this phone knows of its records and photos, and of the last exchange.
import { readMeta } from "../store/local_db.js";
import { countPhotos } from "../store/photos.js";
import { countRecords, countRelayed, countUnsent } from "../store/records.js";
import { session } from "./session.js";

/**
 * What the screens may tell: counts, last contact, photos, whether the browser protects the
 * storage.
 * @returns {Promise<SyncStatus>}
 */
export async function status() {
  const [unsent, relayed, created, photos, isProtected, meta] = await Promise.all([
    countUnsent(),
    countRelayed(),
    countRecords(),
    countPhotos(),
    navigator.storage?.persisted?.().catch(() => false) ?? false,
    readMeta(["device_id", "device_name", "last_contact_at", "is_wifi_only"]),
  ]);
  return {
    unsent,
    relayed,
    created,
    on_server: Math.max(0, created - unsent),
    photos,
    protected: isProtected,
    last_result: session.lastResult,
    ...meta,
  };
}
