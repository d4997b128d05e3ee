// Looks that are still to make: those of studies, and the one stove in twenty.
import { splitKey } from "../inspection/event.js";
import { listEventsOf } from "../store/records.js";
import { t } from "../ui/words.js";

export const SECOND_LOOK = "second-look";
// The buyer's inspector checks the stoves of one batch again, in any order: recheck:B5.
const RECHECK = "recheck:";

/** @param {Study} study */
export const isAnyOrder = ({ id }) => id === SECOND_LOOK || id.startsWith(RECHECK);

/**
 * A re-check is titled in the phone's language; a study as the lead has called it.
 * @param {Study} study
 * @returns {Study}
 */
const withTitle = (study) =>
  study.id.startsWith(RECHECK)
    ? { ...study, title: t("study.recheck", { batch: study.title }) }
    : study;

/**
 * The one stove in twenty that somebody else looks at again, in the shape of a study.
 * @param {App} app
 * @returns {Study}
 */
function secondLooks({ reference: { second_looks = [] }, inspector }) {
  const others = second_looks.filter(({ but_inspector }) => but_inspector !== inspector);
  const looks = others.map(({ stove }) => ({ stove, repeat: 1 }));
  return { id: SECOND_LOOK, title: t("study.second_look"), orders: { [inspector]: looks } };
}

/**
 * Studies with the looks that this inspector has still to make.
 * @param {App} app
 * @returns {Promise<OpenStudy[]>}
 */
export async function listStudies(app) {
  const { reference, inspector } = app;
  const studies = [...(reference.studies ?? []).map(withTitle), secondLooks(app)];
  const records = await listEventsOf(studies.map(({ id }) => id));
  return studies.map((study, at) => {
    const made = records[at].filter((row) => row.event.inspector === inspector);
    const isDone = (/** @type {Look} */ { stove, repeat }) =>
      made.some(({ event: { body } }) => body.stove === stove && body.repeat === repeat);
    return { ...study, left: (study.orders[inspector] ?? []).filter((look) => !isDone(look)) };
  });
}

/**
 * A study names serials, second looks the key of a stove.
 * @param {Study} study
 * @param {Look} look
 */
export const serialOf = ({ id }, { stove }) => (id === SECOND_LOOK ? splitKey(stove).stove : stove);
