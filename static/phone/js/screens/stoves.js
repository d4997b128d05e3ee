// Stoves as this phone knows them, and as rows of a list.
import { normalizeStoveKey, splitKey } from "../inspection/event.js";
import { foldStove } from "../inspection/stove.js";
import {
  listEvents,
  listEventsOf,
  listRows,
  stoveKeysOf,
  stoveKindsOf,
} from "../store/records.js";
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
 * Keys of the stoves of a batch that an inspection counts of. Only those whose records were voided
 * or decided about need their fold.
 * @param {string} batch
 */
export const listDoneKeys = async (batch) => doneKeysOf(await listRows(batch));

/**
 * The same of rows that were read.
 * @param {EventRow[]} rows
 */
export async function doneKeysOf(rows) {
  const found = [...stoveKindsOf(rows)];
  const isOpenToDoubt = (/** @type {Set<string>} */ kinds) =>
    kinds.has("void") || kinds.has("quarantine_decision");
  const plain = found.filter(([, kinds]) => kinds.has("inspection") && !isOpenToDoubt(kinds));
  const doubtful = found.filter(([, kinds]) => isOpenToDoubt(kinds)).map(([key]) => key);
  const stoves = (await listEventsOf(doubtful)).map(foldRows);
  const counting = doubtful.filter((_, at) => stoves[at].inspections.length > 0);
  return [...plain.map(([key]) => key), ...counting].sort();
}

/** @param {Disposition | null | undefined} disposition */
const waits = (disposition) => disposition === "rework" || disposition === "hold";

/** @param {StoveState} state */
export const isHeld = ({ disposition }) => waits(disposition);

/**
 * What an event says becomes of the stove: an inspection, a correction, or either of them once a
 * decision lets it count.
 * @param {Pick<SealedEvent, "kind" | "body">} event
 * @returns {Disposition | undefined}
 */
function dispositionIn({ kind, body }) {
  if (kind === "quarantine_decision") return body.event && dispositionIn(body.event);
  return (body?.replacement ?? body)?.disposition?.kind;
}

/** @param {EventRow} row */
const mayWait = ({ event }) => waits(dispositionIn(event));

/**
 * Stoves that are in rework or held.
 * @param {App} app
 * @param {Map<string, EventRow[]>} [read] rows by batch that were read already
 */
export async function listWaiting(app, read = new Map()) {
  const found = app.openBatches().map(async (batch) => {
    const keys = stoveKeysOf(read.get(batch.code) ?? (await listRows(batch.code)), mayWait);
    const stoves = await listEventsOf(keys);
    return keys.map((key, at) => ({ key, state: foldRows(stoves[at]), batch }));
  });
  return (await Promise.all(found)).flat().filter(({ state }) => isHeld(state));
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
