// What each batch knows of its stoves: a row for each of both, made by the fold of the stove's
// records and remade from them. Whatever changes a record marks its stove as stale in the same
// transaction; the next who asks folds those again, a part at a time. What is lost of it by a power
// cut is made again, so nobody waits for the disk.
import { foldStove, isHeld } from "../inspection/stove.js";
import { ask, withStores } from "./db.js";
import { isFull } from "./free_space.js";
import { forgetProjection } from "./outbox.js";
import { compareRows, mayCount } from "./records.js";

const NAMES = ["stoves", "stale", "meta"];
// Of another version of the app nothing is taken over: its fold may have followed another rule.
const BUILD = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "source";
// So many rows of the log or stoves at a time: a record that is saved meanwhile waits for one part.
const PART = 200;
/** @type {IDBTransactionOptions} */
const RELAXED = { durability: "relaxed" };

/**
 * What the batches know of one stove.
 * @param {string} key
 * @param {EventRow[]} rows every row under the key
 * @returns {StoveRow[]}
 */
export function projectStove(key, rows) {
  const counting = rows.filter(mayCount).sort(compareRows);
  const stoveEvents = counting.map(({ event }) => event).filter(({ stove }) => stove);
  const state = foldStove(stoveEvents);
  const { inspections } = state;
  const named = [...stoveEvents, ...inspections].flatMap(({ batch }) => batch ?? []);
  return [...new Set(named)].map((batch) => ({
    batch,
    key,
    is_done: inspections.some((inspection) => inspection.batch === batch),
    waits: inspections.at(-1)?.batch === batch && isHeld(state),
  }));
}

/**
 * The stoves of batches that this phone has a record of, by key; also those whose records were
 * voided.
 * @param {string[]} batches
 * @returns {Promise<StoveRow[]>}
 */
export async function listStoves(batches) {
  const found = await readRows(batches);
  if (found.isCurrent) return found.rows;
  try {
    while (await projectPart());
  } catch (error) {
    if (!isFull(error)) throw error;
    return projectUnstored(batches);
  }
  return (await readRows(batches)).rows;
}

/** @param {string[]} batches */
function readRows(batches) {
  return withStores(NAMES, "readonly", async ({ stoves, stale, meta }) => {
    const ofBatch = (/** @type {string} */ batch) =>
      ask(stoves.getAll(IDBKeyRange.bound([batch], [batch, []])));
    const [projected, changed, ...rows] = await Promise.all([
      ask(meta.get("projected")),
      ask(stale.count()),
      ...batches.map(ofBatch),
    ]);
    const isWhole = projected?.build === BUILD && projected.is_whole;
    return { isCurrent: isWhole && changed === 0, rows: rows.flat() };
  });
}

/**
 * Folds what changed, else the next part of what was never folded; whether there may be more.
 * @returns {Promise<boolean>}
 */
function projectPart() {
  const names = ["events", ...NAMES];
  return withStores(names, "readwrite", async (stores) => {
    const projected = await ask(stores.meta.get("projected"));
    if (projected && projected.build !== BUILD) forgetProjection(stores);
    const changed = /** @type {string[]} */ (await ask(stores.stale.getAllKeys(undefined, PART)));
    if (changed.length > 0) {
      await Promise.all(changed.map((key) => projectAgain(stores, key)));
      return true;
    }
    return projectNext(stores);
  }, RELAXED);
}

/**
 * @param {Stores} stores
 * @param {string} key
 */
async function projectAgain({ events, stoves, stale }, key) {
  const [rows, before] = await Promise.all([
    ask(events.index("key").getAll(key)),
    ask(stoves.index("key").getAllKeys(key)),
  ]);
  before.forEach((old) => stoves.delete(old));
  projectStove(key, rows).forEach((row) => stoves.put(row));
  stale.delete(key);
}

/**
 * In the order of keys, from where the last part ended.
 * @param {Stores} stores
 */
async function projectNext({ events, stoves, meta }) {
  const { to = "", is_whole = false } = (await ask(meta.get("projected"))) ?? {};
  if (is_whole) return false;
  const index = events.index("key");
  let rows = await ask(index.getAll(IDBKeyRange.lowerBound(to, true), PART));
  const isLast = rows.length < PART;
  const last = rows.at(-1)?.key;
  // The last stove of a part may have more rows than came.
  const whole = isLast ? rows : rows.filter(({ key }) => key !== last);
  rows = whole.length > 0 || isLast ? whole : await ask(index.getAll(last));
  for (const [key, own] of groupByKey(rows))
    projectStove(key, own).forEach((row) => stoves.put(row));
  const place = isLast ? { is_whole: true } : { to: rows.at(-1)?.key };
  meta.put({ ...place, build: BUILD }, "projected");
  return !isLast;
}

/** @param {EventRow[]} rows */
function groupByKey(rows) {
  /** @type {Map<string, EventRow[]>} */
  const groups = new Map();
  for (const row of rows)
    if (row.key) groups.set(row.key, [...(groups.get(row.key) ?? []), row]);
  return groups;
}

/**
 * On a phone too full to keep it.
 * @param {string[]} batches
 */
async function projectUnstored(batches) {
  const rows = await withStores(["events"], "readonly", ({ events }) => ask(events.getAll()));
  const all = [...groupByKey(rows)].flatMap(([key, own]) => projectStove(key, own));
  const byKey = (/** @type {StoveRow} */ a, /** @type {StoveRow} */ b) => (a.key < b.key ? -1 : 1);
  return batches.flatMap((code) => all.filter(({ batch }) => batch === code).sort(byKey));
}
