// The verdict on an answer: one reading of the rules in tests/vectors/judge/; the other is
// qcapp/inspection/judge.py. A change of rule goes into the vectors first, then into both. Nothing
// is
// rounded before it is compared.
import { evaluate } from "./expression.js";
import {
  countReadings,
  isCalculated,
  isChoice,
  isTick,
  isTyped,
  isWhole,
  takesSecond,
} from "./kinds.js";
import { parseNumber } from "./number.js";

// A sum of typed decimals is a hair off in binary (0.1 + 0.2 is not 0.3). This share of the limit
// is forgiven; it is far below the smallest step of any tool.
const SLACK = 1e-9;
const NOT_MEASURABLE = ["cannot-measure", "input-not-measurable"];

/**
 * {check id: {verdict, reason, value}} for every check of the compiled checklist, answered or not.
 * answers: {check id: answer}; context: {size, batch: {attribute: value}}.
 * @param {Checklist} checklist
 * @param {Answers} answers
 * @param {JudgeContext} context
 * @returns {Judgements}
 */
export function judgeAnswers(checklist, answers, context) {
  return Object.fromEntries(
    checklist.checks.map((check) => [check.id, judgeCheck(check, answers, context, checklist)]),
  );
}

/**
 * The verdict on one check; a calculated one needs its checklist, to find its inputs.
 * @param {Check} check
 * @param {Record<string, any>} answers
 * @param {JudgeContext} context
 * @param {Pick<Checklist, "checks"> | null} [checklist]
 * @returns {Judgement}
 */
export function judgeCheck(check, answers, context, checklist = null) {
  if (!meetsConditions(check, context)) return judgement("not_applicable", "condition-not-met");
  const given = findOwn(answers, check.id);
  const answer = given === null || typeof given !== "object" || Array.isArray(given) ? {} : given;
  const mark = answer.mark ?? null;
  if (mark === "not_applicable")
    return check.may_not_apply
      ? judgement("not_applicable", "marked-not-applicable")
      : missing("must-apply");
  if (isTick(check)) return judgeMark(mark);
  if (mark !== null) return judgeMeasuredMark(check, mark, context);
  if (isChoice(check)) return judgeOption(check, answer.option ?? null);
  if (isCalculated(check)) return judgeCalculated(check, answers, context, checklist);
  return judgeReadings(check, answer, context);
}

/**
 * Whether a stove with this is not good: a fail, or a sum that nobody can know because what it is
 * calculated from cannot be measured.
 * @param {Pick<Check, "decision">} check
 * @param {Judgement} judgement
 */
export function hindersRelease(check, { verdict, reason }) {
  return reason === "input-not-measurable" || countsAsFail(check, verdict);
}

/**
 * Whether it has still to be looked at.
 * @param {Judgement} judgement
 */
export const isLeftOut = ({ verdict, reason }) =>
  verdict === "missing" && reason !== "input-not-measurable";

/**
 * Doubtful counts as fail where the check guards against the tool's uncertainty.
 * @param {Pick<Check, "decision">} check
 * @param {Verdict} verdict
 */
export function countsAsFail(check, verdict) {
  return verdict === "fail" || (verdict === "doubtful" && check.decision === "guarded");
}

/**
 * @param {Verdict} verdict
 * @param {string} reason
 * @param {number | null} [value]
 * @returns {Judgement}
 */
function judgement(verdict, reason, value = null) {
  return { verdict, reason, value };
}

/** @param {string} reason */
function missing(reason) {
  return judgement("missing", reason);
}

// An id such as "constructor" must not find what every object inherits.
/**
 * @param {any} object
 * @param {string} key
 * @returns {any}
 */
function findOwn(object, key) {
  return object && Object.hasOwn(object, key) ? object[key] : undefined;
}

/**
 * @param {Check} check
 * @param {JudgeContext} context
 */
function meetsConditions(check, context) {
  return Object.entries(check.when).every(([key, wanted]) => findFact(key, context) === wanted);
}

/**
 * @param {string} key
 * @param {JudgeContext} context
 */
function findFact(key, context) {
  return key === "size" ? context.size : findOwn(context.batch, key.replace(/^batch\./, ""));
}

/**
 * What an inspector may say of a check instead of typing readings.
 * @param {Check} check
 * @param {string} mark
 * @param {JudgeContext} context
 */
function judgeMeasuredMark(check, mark, context) {
  if (mark === "cannot_measure" && isTyped(check)) return judgement("fail", "cannot-measure");
  if (mark !== "gauge" || !check.gauge) return missing("unknown-mark");
  return findOwn(check.limits, context.size)
    ? judgement("pass", "gauge-pass")
    : missing("no-limits");
}

/** @param {string | null} mark */
function judgeMark(mark) {
  if (mark === null) return missing("no-answer");
  if (mark === "pass" || mark === "fail") return judgement(mark, `marked-${mark}`);
  return missing("unknown-mark");
}

/**
 * @param {Check} check
 * @param {string | null} optionId
 */
function judgeOption(check, optionId) {
  if (optionId === null) return missing("no-answer");
  const option = check.options.find(({ id }) => id === optionId);
  return option ? judgement(option.verdict, `option-${option.verdict}`) : missing("unknown-option");
}

/**
 * @param {Check} check
 * @param {Record<string, any>} answer
 * @param {JudgeContext} context
 */
function judgeReadings(check, answer, context) {
  const texts = answer.values ?? null;
  if (texts === null || (Array.isArray(texts) && texts.length === 0)) return missing("no-answer");
  // Array.from also visits the places that were skipped while typing.
  const canonical = Array.isArray(texts) ? Array.from(texts, parseNumber) : [null];
  if (canonical.includes(null)) return missing("not-a-number");
  const numbers = canonical.map(Number);
  const needed = countReadings(check);
  if (isWhole(check) && !numbers.every(Number.isInteger)) return missing("not-whole");
  if (!numbers.every((number) => isPossible(check, number))) return missing("impossible");
  const uncertainty = photoUncertainty(check, answer);
  if (uncertainty === 0) return missing("photo-impossible");
  // A photo gives the one figure that several readings are taken for.
  if (uncertainty && numbers.length > 1) return missing("too-many-readings");
  if (uncertainty) return judgeValue(check, numbers[0], context, uncertainty);
  if (takesSecond(check) && numbers.length === 2)
    return judgeSecondReading(check, numbers, context);
  if (numbers.length < needed) return missing("too-few-readings");
  if (numbers.length > needed) return missing("too-many-readings");
  return judgeValue(check, STATISTICS[check.by ?? "smallest"](numbers), context);
}

/**
 * 0: none that can be; null: a person's own value, or a count.
 * @param {Check} check
 * @param {Record<string, any>} answer
 */
export function photoUncertainty({ possible, photo, figure }, { holes }) {
  const text = holes?.uncertainty ?? null;
  if (text === null) return null;
  const uncertainty = Number(parseNumber(text) ?? 0);
  return photo && figure && uncertainty <= possible.upper - possible.lower ? uncertainty : 0;
}

/**
 * A second reading counts only after a doubtful first one: nobody measures until it passes.
 * @param {Check} check
 * @param {number[]} numbers
 * @param {JudgeContext} context
 */
function judgeSecondReading(check, numbers, context) {
  if (judgeValue(check, numbers[0], context).verdict !== "doubtful")
    return missing("too-many-readings");
  return judgeValue(check, STATISTICS.mean(numbers), context, null, true);
}

/** @type {Record<string, (numbers: number[]) => number>} */
const STATISTICS = {
  smallest: (numbers) => Math.min(...numbers),
  largest: (numbers) => Math.max(...numbers),
  mean: (numbers) => numbers.reduce((total, number) => total + number, 0) / numbers.length,
  range: (numbers) => Math.max(...numbers) - Math.min(...numbers),
};

/**
 * @param {Check} check
 * @param {Record<string, any>} answers
 * @param {JudgeContext} context
 * @param {Pick<Checklist, "checks"> | null} checklist
 */
function judgeCalculated(check, answers, context, checklist) {
  if (checklist === null) throw new TypeError(`inputs of ${check.id} unknown: give its checklist`);
  // Taken out of its own inputs' sight, a circle from a foreign file ends as a missing input.
  const others = { checks: checklist.checks.filter(({ id }) => id !== check.id) };
  const inputs = others.checks.filter(({ id }) => check.inputs.includes(id));
  const judged = inputs.map((input) => judgeCheck(input, answers, context, others));
  if (judged.some(({ reason }) => NOT_MEASURABLE.includes(reason)))
    return missing("input-not-measurable");
  const values = Object.fromEntries(inputs.map(({ id }, at) => [id, judged[at].value]));
  const value = evaluate(check.expression, values);
  if (value === null) return missing("input-missing");
  if (!isPossible(check, value)) return missing("impossible");
  const more = moreVariance(check, inputs, answers, values);
  const uncertainty = more && Math.sqrt(check.uncertainty * check.uncertainty + more);
  return judgeValue(check, value, context, uncertainty);
}

/**
 * What photos less sure than the tools of their checks add to the square of a sum's uncertainty.
 * @param {Check} check
 * @param {Check[]} inputs
 * @param {Record<string, any>} answers
 * @param {Record<string, any>} values
 */
function moreVariance({ expression }, inputs, answers, values) {
  const usual = Number(evaluate(expression, values));
  const move = (/** @type {string} */ id, /** @type {number} */ by) => {
    const moved = evaluate(expression, { ...values, [id]: values[id] + by });
    return moved === null ? 0 : (moved - usual) * (moved - usual);
  };
  return inputs.reduce((total, one) => {
    const sure = photoUncertainty(one, findOwn(answers, one.id) ?? {});
    const more = sure ? move(one.id, sure) - move(one.id, one.uncertainty) : 0;
    return more > 0 ? total + more : total;
  }, 0);
}

/**
 * @param {Check} check
 * @param {number} value
 * @param {JudgeContext} context
 * @param {number | null} [uncertainty] in place of the tool's
 * @param {boolean} [isMean]
 */
function judgeValue(check, value, context, uncertainty = null, isMean = false) {
  const limits = findOwn(check.limits, context.size);
  if (!limits) return missing("no-limits");
  if (isBelow(value, limits.lower)) return judgement("fail", "below-lower", value);
  if (isAbove(value, limits.upper)) return judgement("fail", "above-upper", value);
  const own = isMean ? limitsOfMean(limits) : limits;
  const { accept_lower, accept_upper } = uncertainty ? limitsWith(check, limits, uncertainty) : own;
  if (isBelow(value, accept_lower)) return judgement("doubtful", "near-lower", value);
  if (isAbove(value, accept_upper)) return judgement("doubtful", "near-upper", value);
  return judgement("pass", "within", value);
}

/**
 * The limits that the mean of two readings is held against: nearer by what repeating makes
 * smaller, where that is known.
 * @param {Limits} limits
 */
export function limitsOfMean(limits) {
  const { twice_lower, twice_upper, accept_lower, accept_upper } = limits;
  return {
    ...limits,
    accept_lower: twice_lower ?? accept_lower,
    accept_upper: twice_upper ?? accept_upper,
  };
}

/**
 * @param {Pick<Check, "guard_factor">} check
 * @param {Limits} limits
 * @param {number} uncertainty
 */
export function limitsWith({ guard_factor }, limits, uncertainty) {
  const band = (guard_factor ?? 1) * uncertainty;
  const { lower, upper } = limits;
  return {
    ...limits,
    accept_lower: lower === null ? null : lower + band,
    accept_upper: upper === null ? null : upper - band,
  };
}

/**
 * @param {Check} check
 * @param {number} number
 */
function isPossible(check, number) {
  return !isBelow(number, check.possible.lower) && !isAbove(number, check.possible.upper);
}

/**
 * @param {number} value
 * @param {number | null} limit
 */
function isBelow(value, limit) {
  return limit !== null && value < limit - SLACK * Math.max(1, Math.abs(limit));
}

/**
 * @param {number} value
 * @param {number | null} limit
 */
function isAbove(value, limit) {
  return limit !== null && value > limit + SLACK * Math.max(1, Math.abs(limit));
}
