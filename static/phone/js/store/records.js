// Reading the records that this phone keeps.
import { ask, withStores } from "./db.js";
import { getDevice } from "./device.js";
import { WAITING, isWaiting, rangeOf } from "./waiting.js";

const COUNTING = ["counted", "created", "duplicate"];

/** @param {EventRow["state"]} state */
const countState = (state) =>
  withStores(["events"], "readonly", ({ events }) => ask(events.index("turn").count(rangeOf(state))));

/** Records made on this phone that the server has not named. */
export const countUnsent = () => countState(WAITING.own);

/** Records of other phones that this one took from a file and that the server has not named. */
export const countRelayed = () => countState(WAITING.relay);

/** Records made on this phone since it got its id, sent or not. */
export async function countRecords() {
  return (await getDevice()).dev_seq;
}

/**
 * Rows {id, key, event, origin, state, outcome?, reason?, seq?} of one stove in the log's order,
 * those not sent yet last. What another phone made counts here only when the server lets it count.
 * @param {string} key
 * @returns {Promise<EventRow[]>}
 */
export async function listEvents(key) {
  return (await listEventsOf([key]))[0];
}

/**
 * The same of several stoves, in one transaction: a list of rows for each key.
 * @param {string[]} keys
 * @returns {Promise<EventRow[][]>}
 */
export async function listEventsOf(keys) {
  if (keys.length === 0) return [];
  const stoves = await withStores(["events"], "readonly", ({ events }) =>
    Promise.all(keys.map((key) => ask(events.index("key").getAll(key)))),
  );
  return stoves.map((rows) => rows.filter(mayCount).sort(compareRows));
}

/**
 * Made here, or let count by the server.
 * @param {EventRow} row
 */
export const mayCount = ({ origin, outcome = "" }) => origin === "own" || COUNTING.includes(outcome);

/**
 * @param {EventRow} one
 * @param {EventRow} other
 */
export function compareRows(one, other) {
  const places = [one, other].map((row) => (isWaiting(row) ? Infinity : (row.seq ?? 0)));
  if (places[0] !== places[1]) return places[0] - places[1];
  // Own rows carry the log's head after their push: everything pulled up to there came before.
  if (one.origin !== other.origin) return one.origin === "own" ? 1 : -1;
  return one.event.dev_seq - other.event.dev_seq;
}

/**
 * Rows about a stove made on this phone at or after a UTC time, newest first.
 * @param {string} sinceIso
 * @returns {Promise<EventRow[]>}
 */
export async function listMine(sinceIso) {
  const rows = await withStores(["events"], "readonly", ({ events }) =>
    ask(events.index("captured_at").getAll(IDBKeyRange.lowerBound(sinceIso))),
  );
  return rows.filter((row) => row.origin === "own" && row.event.stove).reverse();
}

/**
 * Up to `count` rows (all without it) that the server has not named yet, this phone's own first,
 * in order of making.
 * @param {number} [count]
 * @returns {Promise<EventRow[]>}
 */
export function listUnsent(count) {
  return withStores(["events"], "readonly", async ({ events }) => {
    const oneAtATime = (/** @type {EventRow["state"]} */ state) =>
      ask(events.index("turn").getAll(rangeOf(state), count));
    return (await Promise.all(Object.values(WAITING).map(oneAtATime))).flat().slice(0, count);
  });
}
