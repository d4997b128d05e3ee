// Changes to the answers of a draft; each gives a new draft.
import { contextOf } from "./draft.js";
import { judgeCheck } from "./judge.js";
import { countReadings, takesSecond } from "./kinds.js";

/**
 * @param {Draft} draft
 * @param {string} checkId
 * @param {Answer} answer
 * @returns {Draft}
 */
export function setAnswer(draft, checkId, answer) {
  return {
    ...draft,
    answers: { ...draft.answers, [checkId]: answer },
    carried: draft.carried.filter((id) => id !== checkId),
  };
}

/**
 * Adds to an answer (note, fault, photos); a value of undefined takes the key away.
 * @param {Draft} draft
 * @param {string} checkId
 * @param {Partial<Answer>} change
 */
export function patchAnswer(draft, checkId, change) {
  const merged = { ...draft.answers[checkId], ...change };
  const kept = Object.entries(merged).filter(([, value]) => value !== undefined);
  return setAnswer(draft, checkId, Object.fromEntries(kept));
}

/**
 * The draft after an answer or the opening of a sheet, with what it was before.
 * @param {Draft} draft
 * @param {Draft} before
 * @returns {Draft}
 */
export function rememberBefore(draft, { answers, carried, typed, timer, at }) {
  return { ...draft, before: { answers, carried, typed, timer, at } };
}

/**
 * The draft as it was before the last answer; the same where nothing is known of that.
 * @param {Draft} draft
 * @returns {Draft}
 */
export function takeBack({ before, ...draft }) {
  const { sheet: _, ...at } = draft.at;
  return { ...draft, at, ...before };
}

/**
 * Readings that stand beside the one being typed: a measure's second one goes when the first is
 * typed again.
 * @param {Pick<Check, "kind">} check
 * @param {string[]} values
 * @param {number} index
 */
export function readingsBeside(check, values, index) {
  return takesSecond(check) ? values.slice(0, index) : [...values];
}

/**
 * To a tenth of a millimetre, the uncertainty never rounded down.
 * @param {Sure} found
 * @returns {PhotoLength}
 */
export const writeLength = ({ value, uncertainty }) => ({
  value: Math.max(0, value).toFixed(1),
  uncertainty: (Math.ceil(uncertainty * 10) / 10).toFixed(1),
});

/** @param {Sure[]} figures */
export const findLeast = (figures) =>
  figures.reduce((least, one) => (one.value < least.value ? one : least));

/** Whether its value is a photo's. @param {Answer | undefined} answer */
export const isTaken = (answer) => answer?.holes?.is_taken === true;

/** @param {Answer | undefined} answer */
export const typedValues = (answer) => (isTaken(answer) ? [] : (answer?.values ?? []));

/**
 * What goes when a person answers otherwise; a photo's proposal stays, as not taken.
 * @param {Answer | undefined} answer
 * @returns {Partial<Answer>}
 */
export function clearedFields(answer) {
  const cleared = { mark: undefined, values: undefined, fault: undefined, more_faults: undefined };
  if (!answer?.holes) return cleared;
  const { uncertainty: _, ...holes } = answer.holes;
  return { ...cleared, holes: { ...holes, is_taken: false } };
}

/**
 * Puts one reading in its place; the other places stay as they are.
 * @param {Draft} draft
 * @param {Check} check
 * @param {number} index
 * @param {string} text
 */
export function setReading(draft, check, index, text) {
  const before = draft.answers[check.id];
  const values = readingsBeside(check, typedValues(before), index);
  values[index] = text;
  return patchAnswer(draft, check.id, { ...clearedFields(before), values });
}

/**
 * Index of the reading to type next, 0 when all are there (typing again).
 * @param {Draft} draft
 * @param {Check} check
 */
export function openReading(draft, check) {
  const have = typedValues(draft.answers[check.id]).length;
  const need = countReadings(check);
  return have < need || needsSecondReading(draft, check) ? have : 0;
}

/**
 * Whether a second reading is wanted: of a measure whose only reading is too close to call.
 * @param {Draft} draft
 * @param {Check} check
 */
export function needsSecondReading(draft, check) {
  return (
    takesSecond(check) &&
    typedValues(draft.answers[check.id]).length === 1 &&
    judgeCheck(check, draft.answers, contextOf(draft)).verdict === "doubtful"
  );
}

/**
 * What cannot be measured: readings typed before do not count.
 * @param {Draft} draft
 * @param {string} checkId
 */
export function markUnmeasurable(draft, checkId) {
  const change = { ...clearedFields(draft.answers[checkId]), mark: "cannot_measure" };
  return patchAnswer({ ...draft, typed: null }, checkId, change);
}

/**
 * A verdict by eye or hand; what was said of a fault before goes.
 * @param {"pass" | "fail"} mark
 * @returns {Partial<Answer>}
 */
export const tickFields = (mark) => ({
  mark,
  given: "single",
  timed_s: undefined,
  fault: undefined,
  more_faults: undefined,
  place: undefined,
});

/**
 * One gauge that goes on everywhere stands for several readings.
 * @param {Draft} draft
 * @param {string} checkId
 */
export const markGauged = (draft, checkId) =>
  patchAnswer({ ...draft, typed: null }, checkId, {
    ...clearedFields(draft.answers[checkId]),
    mark: "gauge",
  });

/**
 * @param {Draft} draft
 * @param {Check[]} ticks
 */
export function passTicks(draft, ticks) {
  return ticks.reduce(
    (done, check) => patchAnswer(done, check.id, { ...tickFields("pass"), given: "group" }),
    draft,
  );
}

/**
 * Notes that the cautions of these checks were read: for this stove they stand behind a sign.
 * @param {Draft} draft
 * @param {Pick<Check, "caution">[]} checks
 * @returns {Draft}
 */
export function noteCautions(draft, checks) {
  const read = checks.flatMap(({ caution }) => caution?.en ?? []);
  return { ...draft, cautions: [...new Set([...(draft.cautions ?? []), ...read])] };
}
