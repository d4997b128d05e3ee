// Answers, limits and rules in words.
import { isTaken } from "../inspection/answers.js";
import { isCalculated, takesSecond } from "../inspection/kinds.js";
import { CANNOT_MEASURE, listFaults, sideOf } from "../inspection/record.js";
import { isCutShort } from "../inspection/timer.js";
import { joinLine } from "../ui/page.js";
import { formatNumber, formatTyped, localize, t, wordOf } from "../ui/words.js";

/** @param {Pick<Limits, "lower" | "upper">} limits */
function limitKind({ lower, upper }) {
  if (lower === null) return "at_most";
  if (upper === null) return "at_least";
  return lower === upper ? "exact" : "between";
}

/**
 * "97 to 103 mm", "at least 10 mm", "exactly 19"; of several readings also what is held against
 * it: "difference: at most 3 mm".
 * @param {Pick<Limits, "lower" | "upper">} limits
 * @param {Pick<Check, "kind" | "unit" | "by">} check
 */
export function limitWords(limits, { kind, unit, by }) {
  const { lower, upper } = limits;
  // What is counted stands in the plural, which does not follow a 1: "rivets: exactly 1".
  const isOne = kind === "count" && (lower ?? 1) === 1 && (upper ?? 1) === 1;
  const of = wordOf("unit", unit);
  const bare = t(`limit.${limitKind(limits)}`, { lower, upper, unit: isOne ? "" : of }).trim();
  const words = isOne && of ? t("limit.counted", { unit: of, limits: bare }) : bare;
  return by ? t(`limit.by_${by}`, { limits: words }) : words;
}

/**
 * A reading, or the mean of two, with the uncertainty (k = 2) it has: a second reading makes only
 * that part
 * smaller which differs from one to the next (JCGM 100:2008, 4.2.3).
 * @param {Pick<Check, "uncertainty" | "repeatability" | "unit">} check
 * @param {number | null} value
 */
export function uncertaintyWords(check, value, n = 1) {
  const saved = n > 1 ? (check.repeatability ?? 0) ** 2 / 2 : 0;
  const uncertainty = Math.sqrt(check.uncertainty ** 2 - saved);
  return t(n > 1 ? "uncertainty.mean" : "uncertainty.one", {
    value,
    uncertainty: Number(uncertainty.toPrecision(2)),
    unit: wordOf("unit", check.unit),
  });
}

/**
 * A photo's value with its own uncertainty (k = 2), which a count has not.
 * @param {Check} check
 * @param {Answer | undefined} answer
 */
export function photoWords(check, answer) {
  if (!isTaken(answer)) return "";
  const uncertainty = Number(answer?.holes?.uncertainty);
  const [value] = answer?.values ?? [];
  const sure = check.figure && uncertaintyWords({ ...check, uncertainty }, Number(value));
  return joinLine([t("given.photo"), sure]);
}

/**
 * What becomes of a doubtful reading (JCGM 106:2012, 8.2 and 8.3).
 * @param {Pick<Check, "decision" | "guard_factor">} check
 */
export const ruleWords = (check) =>
  t(`uncertainty.${check.decision}`, { guard: check.guard_factor ?? 1 });

/**
 * The readings as typed, or the one value they come to.
 * @param {Check} check
 * @param {string[]} values
 * @param {Judgement} judgement
 */
export function valueWords({ unit, by }, values, { value }) {
  const unitWord = unit ? ` ${wordOf("unit", unit)}` : "";
  const judged =
    (value ?? null) === null ? "" : formatNumber(Number(value?.toPrecision(4))) + unitWord;
  if (values.length < 2) return judged;
  const isOneOfThem = !by || ["smallest", "largest"].includes(by);
  const figure = judged && !isOneOfThem && t(`limit.by_${by}`, { limits: judged });
  return joinLine([joinLine(values.map(formatTyped)) + unitWord, figure]);
}

/**
 * @param {Check} check
 * @param {string | null | undefined} faultId
 */
export const faultWords = ({ faults }, faultId) =>
  faultId === CANNOT_MEASURE
    ? t("fault.cannot_measure")
    : localize(faults.find(({ id }) => id === faultId)?.title);

/**
 * How far a value is beyond its limit, in words; empty where there is no such figure.
 * @param {Check} check
 * @param {Judgement} judgement
 * @param {string} size
 */
export function excessWords(check, judgement, size) {
  const side = judgement.verdict === "fail" ? sideOf(judgement) : null;
  const limits = check.limits?.[size];
  if (!side || !limits || judgement.value === null) return "";
  const limit = Number(side === "above" ? limits.upper : limits.lower);
  // What typed decimals differ by is a hair off in binary.
  const excess = Number(Math.abs(judgement.value - limit).toPrecision(4));
  const unit = wordOf("unit", check.unit, "");
  // What has a word is counted, in the plural: "1 holes" is nothing one says.
  const key = unit ? { above: "fault.too_many", below: "fault.too_few" }[side] : `fault.${side}`;
  return t(key, { excess: formatNumber(excess), unit: check.unit ?? "" }).trim();
}

/**
 * How a verdict was given, where that says how much it is worth.
 * @param {Check} check
 * @param {Answer | undefined} answer
 */
function givenWords(check, answer) {
  if (answer?.mark === "gauge") return t("given.gauge");
  if (isCutShort(check, answer))
    return t("given.short", { s: answer?.timed_s ?? 0, n: Number(check.lasts_seconds) });
  return answer?.given === "group" && t("given.group");
}

/**
 * Value, option or fault of an answered check, in words.
 * @param {Check} check
 * @param {Answer | undefined} answer
 * @param {Judgement} judgement
 * @param {string} size
 */
export function answerWords(check, answer, judgement, size) {
  const values = answer?.values ?? [];
  const isMean = takesSecond(check) && values.length > 1;
  const hasFigure = isCalculated(check) && judgement.value !== null;
  const option = check.options?.find(({ id }) => id === answer?.option);
  return joinLine([
    !(check.figure && isTaken(answer)) && valueWords(check, values, judgement),
    isMean && uncertaintyWords(check, judgement.value, 2),
    photoWords(check, answer),
    judgement.verdict === "doubtful" && ruleWords(check),
    localize(option?.title),
    hasFigure && t("walk.wanted", { limits: limitWords(check.limits[size], check) }),
    givenWords(check, answer),
    ...listFaults(answer ?? {}).map((fault) => faultWords(check, fault)),
    answer?.note,
  ]);
}
