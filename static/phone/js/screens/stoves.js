// Stoves as this phone knows them, and as rows of a list.
import { foldStove } from "../inspection/stove.js";
import { listEvents, listEventsOf, listStoveKeys } from "../store/records.js";
import { list, row } from "../ui/page.js";
import { shape } from "../ui/verdict.js";

/** @type {Partial<Record<string, Verdict>>} */
const DISPOSITION_MARK = { release: "pass", rework: "fail", concession: "doubtful", scrap: "fail" };

/** @param {string} key */
export function splitKey(key) {
  const [stage, ...rest] = key.split("/");
  return { stage, stove: rest.join("/") };
}

/** @param {Disposition | null} kind */
export const dispositionMark = (kind) => shape(DISPOSITION_MARK[kind ?? ""] ?? "missing");

/** @param {EventRow[]} rows @returns {StoveRecord} */
const foldRows = (rows) => ({ rows, ...foldStove(rows.map(({ event }) => event)) });

/**
 * State of one stove from every event this phone knows of it, with the rows they came in.
 * @param {string} key
 */
export const readStove = async (key) => foldRows(await listEvents(key));

/** @param {Disposition | null | undefined} disposition */
const waits = (disposition) => disposition === "rework" || disposition === "hold";

/** @param {StoveState} state */
export const isHeld = ({ disposition }) => waits(disposition);

/**
 * Stoves that are in rework or held.
 * @param {App} app
 */
export async function listWaiting(app) {
  const found = app.openBatches().map(async (batch) => {
    const mayWait = (/** @type {EventRow} */ { event }) => waits(event.body?.disposition?.kind);
    const keys = await listStoveKeys(batch.code, mayWait);
    const stoves = await listEventsOf(keys);
    return keys.map((key, at) => ({ key, state: foldRows(stoves[at]), batch }));
  });
  return (await Promise.all(found)).flat().filter(({ state }) => isHeld(state));
}

/**
 * Stoves as rows that open them.
 * @param {App} app
 * @param {{key: string, state: StoveState, under: string}[]} stoves
 */
export function stoveRows(app, stoves) {
  const rows = stoves.map(({ key, state, under }) =>
    row({
      mark: dispositionMark(state.disposition),
      text: splitKey(key).stove,
      under,
      onclick: () => app.go(`#/stove/${encodeURIComponent(key)}`),
    }),
  );
  return list(rows);
}
