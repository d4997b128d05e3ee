// What is known of stoves (projection.js) and no longer fits their records.

/**
 * What is known of the stove of a record that changed must be folded again (projection.js).
 * @param {IDBObjectStore} stale
 * @param {string | null | undefined} key
 */
export function markStale(stale, key) {
  if (key) stale.put(1, key);
}

/**
 * The same of every stove; only deletes, so that it needs no room.
 * @param {Stores} stores
 */
export function forgetProjection({ stoves, stale, meta }) {
  stoves.clear();
  stale.clear();
  meta.delete("projected");
}
