// What the phone keeps besides records and photos: settings by key, the yard's reference, drafts.
import { listShown } from "../inspection/shown.js";
import { ask, withStores } from "./db.js";
import { withFreeSpace, withSpareSpace } from "./free_space.js";

/**
 * @param {string} key
 * @returns {Promise<any>}
 */
export function getMeta(key) {
  return withStores(["meta"], "readonly", ({ meta }) => ask(meta.get(key)));
}

/**
 * @param {string} key
 * @param {unknown} value
 */
export function setMeta(key, value) {
  return withStores(["meta"], "readwrite", ({ meta }) => ask(meta.put(value, key)));
}

/**
 * {key: value} of several keys from one transaction; absent keys are undefined.
 * @param {string[]} keys
 */
export function readMeta(keys) {
  return withStores(["meta"], "readonly", ({ meta }) => readKeys(meta, keys));
}

/**
 * The same inside a transaction of the caller.
 * @param {IDBObjectStore} meta
 * @param {string[]} keys
 * @returns {Promise<any>}
 */
export async function readKeys(meta, keys) {
  const values = await Promise.all(keys.map((key) => ask(meta.get(key))));
  return Object.fromEntries(keys.map((key, index) => [key, values[index]]));
}

// What the app must know before any screen shows.
const AT_START = [
  ...["inspector", "batch", "language", "is_still", "is_by_tool"],
  ...["device_id", "dev_seq", "loss"],
];

/** The stores that `knownIn` reads. */
export const KNOWN = ["meta", "reference", "drafts"];

/**
 * All of it, inside a transaction of the caller: on a cheap phone each costs a round to another
 * process.
 * @param {Stores} stores
 * @returns {Promise<Known>}
 */
export async function knownIn(stores) {
  const [meta, home, drafts] = await Promise.all([
    readKeys(stores.meta, AT_START),
    ask(stores.reference.get("home")),
    ask(stores.drafts.getAll()),
  ]);
  return { meta, reference: home ?? homeOf(await ask(stores.reference.get("current"))), drafts };
}

export const readKnown = () => withStores(KNOWN, "readonly", knownIn);

/**
 * The reference without what only an inspection needs, which is most of its bytes.
 * @param {Reference | undefined} reference
 * @returns {Home | undefined}
 */
function homeOf(reference) {
  if (!reference) return undefined;
  const { checklists: _, drawings: __, ...home } = reference;
  return home;
}

/**
 * The whole reference.
 * @returns {Promise<Reference | undefined>}
 */
export async function readReference() {
  const [whole, home] = await withStores(["reference"], "readonly", ({ reference }) =>
    Promise.all([ask(reference.get("current")), ask(reference.getKey("home"))]),
  );
  // One that an older version of the app has kept; where there is no room, the start reads it all.
  if (whole && !home)
    await withStores(["reference"], "readwrite", ({ reference }) =>
      ask(reference.put(homeOf(whole), "home")),
    ).catch(() => {});
  return whole;
}

/**
 * Keeps every checklist ever seen beside it: a started inspection ends with the one it began with.
 * @param {Reference} fresh
 */
export function saveReference(fresh) {
  return withSpareSpace(() =>
    withStores(["reference"], "readwrite", ({ reference }) => {
      reference.put(fresh, "current");
      reference.put(homeOf(fresh), "home");
      for (const { hash, compiled, drawings } of fresh.checklists) {
        reference.put(compiled, `checklist/${hash}`);
        const shown = { ...fresh.drawings, ...drawings };
        const names = listShown(compiled).filter((name) => shown[name]);
        reference.put(Object.fromEntries(names.map((name) => [name, shown[name]])), `shown/${hash}`);
      }
    }),
  );
}

/**
 * Drawing and pictures of a checklist as they were when it came, by name; empty when this phone
 * never had them.
 * @param {string} hash
 * @returns {Promise<Record<string, string>>}
 */
export async function findShown(hash) {
  const shown = await withStores(["reference"], "readonly", ({ reference }) =>
    ask(reference.get(`shown/${hash}`)),
  );
  return shown ?? {};
}

/**
 * A checklist that came with another phone's records.
 * @param {string} hash
 * @param {Checklist} compiled
 */
export function keepChecklist(hash, compiled) {
  return withStores(["reference"], "readwrite", ({ reference }) =>
    ask(reference.put(compiled, `checklist/${hash}`)),
  );
}

/**
 * A compiled checklist by its hash, undefined when this phone never had it.
 * @param {string} hash
 * @returns {Promise<Checklist | undefined>}
 */
export function findChecklist(hash) {
  return withStores(["reference"], "readonly", ({ reference }) =>
    ask(reference.get(`checklist/${hash}`)),
  );
}

/**
 * The checklist of a draft: kept as long as anything here names it.
 * @param {string} hash
 */
export async function getChecklist(hash) {
  return /** @type {Checklist} */ (await findChecklist(hash));
}

/** @param {Draft} draft */
export function saveDraft(draft) {
  return withFreeSpace(() =>
    withStores(["drafts"], "readwrite", ({ drafts }) => ask(drafts.put(draft))),
  );
}

/**
 * @param {string} key
 * @returns {Promise<Draft | undefined>}
 */
export function findDraft(key) {
  return withStores(["drafts"], "readonly", ({ drafts }) => ask(drafts.get(key)));
}

/** @returns {Promise<Draft[]>} */
export function listDrafts() {
  return withStores(["drafts"], "readonly", ({ drafts }) => ask(drafts.getAll()));
}

/** @param {string} key */
export function deleteDraft(key) {
  return withStores(["drafts"], "readwrite", ({ drafts }) => ask(drafts.delete(key)));
}
