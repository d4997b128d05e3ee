// Stoves as this phone knows them, and as rows of a list.
import { normalizeStoveKey, splitKey } from "../inspection/event.js";
import { foldStove } from "../inspection/stove.js";
import { listStoves } from "../store/projection.js";
import { listEvents, listEventsOf } from "../store/records.js";
import { dispositionMark } from "../ui/disposition_mark.js";
import { list, row } from "../ui/page.js";

/** @param {EventRow[]} rows @returns {StoveRecord} */
const foldRows = (rows) => ({ rows, ...foldStove(rows.map(({ event }) => event)) });

/**
 * State of one stove from every event this phone knows of it, with the rows they came in.
 * @param {string} written its stage and serial, however typed
 */
export const readStove = async (written) => foldRows(await listEvents(normalizeStoveKey(written)));

/**
 * The same of several stoves.
 * @param {string[]} keys
 */
export const readStoves = async (keys) =>
  (await listEventsOf(keys)).map((rows, at) => ({ key: keys[at], ...foldRows(rows) }));

/**
 * Its serial as it was typed first.
 * @param {string} written
 * @param {StoveRecord} state
 */
export const serialOfStove = (written, { inspections, rows }) =>
  inspections[0]?.stove || rows[0]?.event.stove || splitKey(written).stove;

/**
 * Keys of the stoves of a batch that an inspection counts of.
 * @param {string} batch
 */
export const listDoneKeys = async (batch) => doneKeysOf(await listStoves([batch]));

/** @param {StoveRow[]} rows */
export const doneKeysOf = (rows) => rows.filter(({ is_done }) => is_done).map(({ key }) => key);

/**
 * Stoves that are in rework or held.
 * @param {App} app
 */
export async function listWaiting(app) {
  const batches = new Map(app.openBatches().map((batch) => [batch.code, batch]));
  const rows = (await listStoves([...batches.keys()])).filter(({ waits }) => waits);
  const stoves = await readStoves(rows.map(({ key }) => key));
  return rows.flatMap(({ key, batch: code }, at) => {
    const batch = batches.get(code);
    return batch ? { key, state: stoves[at], batch } : [];
  });
}

/**
 * Stoves as rows that open them.
 * @param {App} app
 * @param {{key: string, state: StoveRecord, under: Children}[]} stoves
 */
export function stoveRows(app, stoves) {
  const rows = stoves.map(({ key, state, under }) =>
    row({
      mark: dispositionMark(state.disposition),
      text: serialOfStove(key, state),
      under,
      onclick: () => app.go(`#/stove/${encodeURIComponent(key)}`),
    }),
  );
  return list(rows);
}
