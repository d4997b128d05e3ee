// Pictures of lessons that are kept for no signal, beside the reference: by the SHA-256 of their
// bytes, so that one that several steps show is kept once.
import { ask, withStores } from "./db.js";

const PREFIX = "lesson/";
// After every key that begins so: "0" follows "/".
const all = () => IDBKeyRange.bound(PREFIX, "lesson0", false, true);

/**
 * Drops pictures that no lesson names any more; gives the names that are not here yet.
 * @param {string[]} wanted
 * @returns {Promise<string[]>}
 */
export async function keepOnly(wanted) {
  const keys = await withStores(["reference"], "readonly", ({ reference }) =>
    ask(reference.getAllKeys(all())),
  );
  const have = /** @type {string[]} */ (keys).map((key) => key.slice(PREFIX.length));
  const unused = have.filter((name) => !wanted.includes(name));
  if (unused.length > 0)
    await withStores(["reference"], "readwrite", ({ reference }) =>
      unused.forEach((name) => reference.delete(PREFIX + name)),
    );
  return wanted.filter((name) => !have.includes(name));
}

/**
 * @param {string} name
 * @param {ArrayBuffer} bytes
 */
export function keepPicture(name, bytes) {
  return withStores(["reference"], "readwrite", ({ reference }) =>
    ask(reference.put(bytes, PREFIX + name)),
  );
}

/**
 * @param {string} name
 * @returns {Promise<ArrayBuffer | undefined>}
 */
export function findPicture(name) {
  return withStores(["reference"], "readonly", ({ reference }) =>
    ask(reference.get(PREFIX + name)),
  );
}
