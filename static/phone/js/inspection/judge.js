/**
 * The verdict on an answer, and what may become of a stove: one reading of the rules in
 * tests/vectors/judge/ and disposition/. The others are qcapp/inspection/judge.py and disposition.py;
 * a change of rule goes into the vectors first, then into both. Nothing is rounded before it is compared.
 */

// --- What a typed text means as a number: one written grammar for both languages. The rule is
// tests/vectors/number/; the other reading of it is qcapp/inspection/number.py.

// Listed by hand because trim() and Python's strip() remove different characters.
export const OUTER_SPACES = /^[ \t\n\r\u00a0\u202f]+|[ \t\n\r\u00a0\u202f]+$/g;
const CANONICAL = /^[0-9]{1,7}(?:\.[0-9]{1,4})?$/;

/** Canonical text of a typed number ("12,50" -> "12.50"), or null when it is not one. */
export function parseNumber(text) {
  if (typeof text !== "string") return null;
  const canonical = text
    .replace(OUTER_SPACES, "")
    .replace(/[,\u066b]/g, ".")
    // Arabic-Indic and Persian digits: the last four bits of each are its value.
    .replace(/[\u0660-\u0669\u06f0-\u06f9]/g, (digit) => digit.charCodeAt(0) & 15);
  return CANONICAL.test(canonical) ? canonical : null;
}

// --- Verdicts

// A sum of typed decimals is a hair off in binary (0.1 + 0.2 is not 0.3). This share of the limit
// is forgiven; it is far below the smallest step of any tool.
const SLACK = 1e-9;

/**
 * {check id: {verdict, reason, value}} for every check of the compiled checklist, answered or not.
 * answers: {check id: answer}; context: {size, batch: {attribute: value}}.
 */
export function judgeAnswers(checklist, answers, context) {
  return Object.fromEntries(
    checklist.checks.map((check) => [check.id, judgeCheck(check, answers, context, checklist)]),
  );
}

/**
 * The verdict on one check; a calculated one needs its checklist, to find its inputs.
 * @returns {{verdict: string, reason: string, value: number|null}} verdict: pass, fail, doubtful,
 *   not_applicable or missing; value: the number that was held against the limits
 */
export function judgeCheck(check, answers, context, checklist = null) {
  if (!meetsConditions(check, context)) return judgement("not_applicable", "condition-not-met");
  const given = findOwn(answers, check.id);
  const answer = given === null || typeof given !== "object" || Array.isArray(given) ? {} : given;
  const mark = answer.mark ?? null;
  if (mark === "not_applicable") return judgement("not_applicable", "marked-not-applicable");
  if (check.kind === "tick") return judgeMark(mark);
  if (mark !== null) return missing("unknown-mark");
  if (check.kind === "choice") return judgeOption(check, answer.option ?? null);
  if (check.kind === "calculated") return judgeCalculated(check, answers, context, checklist);
  return judgeReadings(check, answer.values ?? null, context);
}

/** Doubtful counts as fail where the check guards against the tool's uncertainty. */
export function countsAsFail(check, verdict) {
  return verdict === "fail" || (verdict === "doubtful" && check.decision === "guarded");
}

function judgement(verdict, reason, value = null) {
  return { verdict, reason, value };
}

function missing(reason) {
  return judgement("missing", reason);
}

// An id such as "constructor" must not find what every object inherits.
function findOwn(object, key) {
  return object && Object.hasOwn(object, key) ? object[key] : undefined;
}

function meetsConditions(check, context) {
  return Object.entries(check.when).every(([key, wanted]) => findFact(key, context) === wanted);
}

function findFact(key, context) {
  return key === "size" ? context.size : findOwn(context.batch, key.replace(/^batch\./, ""));
}

function judgeMark(mark) {
  if (mark === null) return missing("no-answer");
  if (mark === "pass" || mark === "fail") return judgement(mark, `marked-${mark}`);
  return missing("unknown-mark");
}

function judgeOption(check, optionId) {
  if (optionId === null) return missing("no-answer");
  const option = check.options.find(({ id }) => id === optionId);
  return option ? judgement(option.verdict, `option-${option.verdict}`) : missing("unknown-option");
}

function judgeReadings(check, texts, context) {
  if (texts === null || (Array.isArray(texts) && texts.length === 0)) return missing("no-answer");
  // Array.from also visits the places that were skipped while typing.
  const canonical = Array.isArray(texts) ? Array.from(texts, parseNumber) : [null];
  if (canonical.includes(null)) return missing("not-a-number");
  const numbers = canonical.map(Number);
  const needed = check.kind === "readings" ? check.n : 1;
  if (check.kind === "count" && !numbers.every(Number.isInteger)) return missing("not-whole");
  if (!numbers.every((number) => isPossible(check, number))) return missing("impossible");
  if (check.kind === "measure" && numbers.length === 2) return judgeTwice(check, numbers, context);
  if (numbers.length < needed) return missing("too-few-readings");
  if (numbers.length > needed) return missing("too-many-readings");
  const statistic = check.kind === "readings" ? STATISTICS[check.by] : STATISTICS.smallest;
  return judgeValue(check, statistic(numbers), context);
}

/** A second reading counts only after a doubtful first one: nobody measures until it passes. */
function judgeTwice(check, numbers, context) {
  if (judgeValue(check, numbers[0], context).verdict !== "doubtful")
    return missing("too-many-readings");
  return judgeValue(check, STATISTICS.mean(numbers), context, true);
}

const STATISTICS = {
  smallest: (numbers) => Math.min(...numbers),
  largest: (numbers) => Math.max(...numbers),
  mean: (numbers) => numbers.reduce((total, number) => total + number, 0) / numbers.length,
  range: (numbers) => Math.max(...numbers) - Math.min(...numbers),
};

function judgeCalculated(check, answers, context, checklist) {
  if (checklist === null) throw new TypeError(`inputs of ${check.id} unknown: give its checklist`);
  // Taken out of its own inputs' sight, a circle from a foreign file ends as a missing input.
  const others = { checks: checklist.checks.filter(({ id }) => id !== check.id) };
  const inputs = others.checks.filter(({ id }) => check.inputs.includes(id));
  const values = Object.fromEntries(
    inputs.map((input) => [input.id, judgeCheck(input, answers, context, others).value]),
  );
  const value = evaluate(check.expression, values);
  if (value === null) return missing("input-missing");
  if (!isPossible(check, value)) return missing("impossible");
  return judgeValue(check, value, context);
}

function judgeValue(check, value, context, isMean = false) {
  const limits = findOwn(check.limits, context.size);
  if (!limits) return missing("no-limits");
  if (isBelow(value, limits.lower)) return judgement("fail", "below-lower", value);
  if (isAbove(value, limits.upper)) return judgement("fail", "above-upper", value);
  const { accept_lower, accept_upper } = isMean ? limitsOfMean(limits) : limits;
  if (isBelow(value, accept_lower)) return judgement("doubtful", "near-lower", value);
  if (isAbove(value, accept_upper)) return judgement("doubtful", "near-upper", value);
  return judgement("pass", "within", value);
}

/** The limits that the mean of two readings is held against: nearer by what repeating makes smaller, where that is known. */
export function limitsOfMean(limits) {
  const { twice_lower, twice_upper, accept_lower, accept_upper } = limits;
  return {
    ...limits,
    accept_lower: twice_lower ?? accept_lower,
    accept_upper: twice_upper ?? accept_upper,
  };
}

function isPossible(check, number) {
  return !isBelow(number, check.possible.lower) && !isAbove(number, check.possible.upper);
}

function isBelow(value, limit) {
  return limit !== null && value < limit - SLACK * Math.max(1, Math.abs(limit));
}

function isAbove(value, limit) {
  return limit !== null && value > limit + SLACK * Math.max(1, Math.abs(limit));
}

// --- Calculated checks; twin of evaluate() in qcapp/checklist/expression.py

const OPERATIONS = {
  "+": (a, b) => a + b,
  "-": (a, b) => a - b,
  "*": (a, b) => a * b,
  "/": (a, b) => a / b,
  neg: (a) => -a,
  sqrt: Math.sqrt,
  abs: Math.abs,
  min: Math.min,
  max: Math.max,
};

/**
 * The tree's value for {check id: value}; null where an input is missing, and where there is no
 * finite answer (division by zero, root of a negative number, overflow). Worked out in binary64, in
 * the order of the tree, so both sides get equal bits.
 */
export function evaluate(tree, values) {
  if (typeof tree === "number") return tree;
  const [head, ...rest] = tree;
  if (head === "input") return Object.hasOwn(values, rest[0]) ? values[rest[0]] : null;
  const parts = rest.map((part) => evaluate(part, values));
  if (parts.includes(null)) return null;
  const result = OPERATIONS[head](...parts);
  return Number.isFinite(result) ? result : null;
}

// --- What may become of a stove, by what was found on it (ISO 9000 terms)

/**
 * Dispositions in order of proposal; the first is the proposed one. A stove with a critical
 * fault can hurt someone, so it is never released, not even by concession; one that was not
 * wholly checked is not known to be good.
 */
export function allowedDispositions(failedSeverities, hasMissing) {
  if (hasMissing) return ["hold", "rework", "scrap"];
  if (failedSeverities.includes("critical")) return ["rework", "hold", "scrap"];
  if (failedSeverities.length > 0) return ["rework", "concession", "hold", "scrap"];
  return ["release", "hold"];
}

/** Whether a person must say in words why this disposition was chosen. */
export function needsReason(disposition) {
  return ["concession", "hold", "scrap"].includes(disposition);
}
