// What this phone knows of the yard's templates and gauges.
import { stateOf } from "../inspection/gauge.js";
import { listEventsOf } from "../store/records.js";

/**
 * @param {App} app
 * @returns {Promise<GaugeState[]>}
 */
export async function listGauges({ reference: { gauges = [] }, now }) {
  const records = await listEventsOf(gauges.map(({ id }) => id));
  const eventsOf = (/** @type {number} */ at) => records[at].map(({ event }) => event);
  return gauges.map((gauge, at) => stateOf(gauge, eventsOf(at), now()));
}

/**
 * Of the inspection in hand: each tap shows the walk anew.
 * @type {{key: string, late: GaugeState[]} | null}
 */
let kept = null;

/**
 * Those that are late or outside their tolerance; read once for each inspection.
 * @param {App} app
 */
export async function listLate(app) {
  // A practice is of no yard.
  if (app.draft.is_practice || !app.reference?.gauges?.length) return [];
  const { key } = app.draft;
  if (kept?.key !== key)
    kept = { key, late: (await listGauges(app)).filter(({ isLate }) => isLate) };
  return kept.late;
}

/** One was checked. */
export const forgetLate = () => {
  kept = null;
};
