// The inspection being made: a plain object that is stored at every tap. Nothing here reads a
// clock,
// a store or the page; every change gives a new draft.
import { stoveKey } from "./event.js";
import { countsAsFail, judgeAnswers } from "./judge.js";
import { isCalculated } from "./kinds.js";
import { serialKey } from "./serial.js";

/**
 * Whether a sample was agreed for this stage and the stove is not in it: then only critical checks
 * are asked.
 * @param {Pick<Batch, "sample">} batch
 * @param {string} stage
 * @param {string} stove
 */
export function isShort({ sample }, stage, stove) {
  if (sample?.stage !== stage) return false;
  return !sample.serials.map(serialKey).includes(serialKey(stove));
}

/**
 * A draft for a stove nobody has started: {compiled, hash, batch, stove, inspector, crew,
 * made_from, started_at}.
 * @param {DraftFields} fields
 * @returns {Draft}
 */
export function newDraft(fields) {
  const { compiled, hash, batch, stove, inspector = "", crew = {}, made_from, started_at } = fields;
  return {
    key: stoveKey(compiled.stage, stove),
    kind: "inspection",
    stage: compiled.stage,
    stove,
    batch: batch.code ?? "",
    size: batch.size,
    batch_attributes: batch.attributes ?? {},
    checklist: `${compiled.id}@${compiled.revision}`,
    checklist_hash: hash,
    inspector,
    crew,
    ...(made_from && { made_from }),
    started_at,
    is_short: isShort(batch, compiled.stage, stove),
    answers: {},
    carried: [],
    at: { part: null, check: null },
    is_open: true,
  };
}

/**
 * A blind look: nothing given before is in it. look: {study, stove, repeat} as recorded; checks:
 * ids asked, all when absent.
 * @param {DraftFields & Required<Pick<Draft, "look">> & Pick<Draft, "checks">} fields
 * @returns {Draft}
 */
export function newLook({ look, checks, ...fields }) {
  return {
    ...newDraft(fields),
    key: Object.values(look).join("/"),
    kind: "study_answer",
    stage: null,
    look,
    checks,
  };
}

/**
 * Of no stove's history: nothing becomes of a stove by it.
 * @param {Pick<Draft, "look" | "first_piece">} draft
 */
export const isApart = ({ look, first_piece }) => Boolean(look || first_piece);

/**
 * Answers of several inspections of one stove put together: what was given later replaces what was
 * before.
 * @param {Inspection[]} inspections
 * @returns {Answers}
 */
function mergeAnswers(inspections) {
  return Object.assign({}, ...inspections.map((inspection) => inspection.body.answers));
}

/**
 * A calculated check and its inputs are settled together: one new reading makes the old sum
 * worthless.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 */
function unsettledChecks(compiled, judgements) {
  const isSettled = (/** @type {Check} */ check) => {
    const { verdict } = judgements[check.id];
    return verdict !== "missing" && !countsAsFail(check, verdict);
  };
  const unsettled = new Set(
    compiled.checks.filter((check) => !isSettled(check)).map((check) => check.id),
  );
  for (const check of compiled.checks.filter(isCalculated)) {
    if ([check.id, ...check.inputs].some((id) => unsettled.has(id)))
      check.inputs.forEach((id) => unsettled.add(id));
  }
  return unsettled;
}

/**
 * An inspection after rework: what failed or was missing is asked again; the rest is carried, which
 * means shown
 * and used for the disposition, but not recorded as inspected again. inspections: as folded, not
 * empty.
 * @param {DraftFields} fields
 * @param {Inspection[]} inspections
 * @returns {Draft}
 */
export function newReinspection(fields, inspections) {
  const draft = { ...newDraft(fields), crew: inspections.at(-1)?.body.crew ?? {} };
  const before = mergeAnswers(inspections);
  const judgements = judgeDraft(fields.compiled, { ...draft, answers: before });
  const unsettled = unsettledChecks(fields.compiled, judgements);
  const carried = fields.compiled.checks
    .map(({ id }) => id)
    .filter((id) => before[id] && !unsettled.has(id));
  return { ...draft, answers: Object.fromEntries(carried.map((id) => [id, before[id]])), carried };
}

/**
 * A correction of inspections[index]: starts from its answers and replaces its whole body.
 * @param {Pick<Draft, "stage" | "stove" | "checklist" | "inspector">} fields
 * @param {Inspection[]} inspections
 * @param {number} index
 * @returns {Draft}
 */
export function newCorrection({ stage, stove, checklist, inspector }, inspections, index) {
  const { id, batch, checklist_hash, body } = inspections[index];
  const { size, batch_attributes, crew, made_from, started_at } = body;
  const answers = mergeAnswers(inspections.slice(0, index + 1));
  return {
    key: `${stoveKey(stage ?? "", stove)}/correction`,
    kind: "correction",
    stage,
    stove,
    batch,
    size,
    batch_attributes,
    checklist,
    checklist_hash,
    inspector,
    crew,
    ...(made_from && { made_from }),
    started_at,
    is_short: body.scope === "critical",
    answers,
    carried: Object.keys(answers).filter((check) => !body.answers[check]),
    at: { part: null, check: null, screen: "review" },
    is_open: true,
    corrects: id,
  };
}

/**
 * @param {Pick<Draft, "size" | "batch_attributes">} draft
 * @returns {JudgeContext}
 */
export function contextOf(draft) {
  return { size: draft.size, batch: draft.batch_attributes };
}

/**
 * Steps that a check of this batch looks at: an unpainted stove is asked nothing about its paint.
 * @param {Checklist} compiled
 * @param {Pick<Batch, "size"> & Partial<Batch>} batch
 */
export function askedSteps(compiled, { size, attributes = {} }) {
  const judgements = judgeAnswers(compiled, {}, { size, batch: attributes });
  const isMet = (/** @type {Check} */ { id }) => judgements[id].reason !== "condition-not-met";
  const steps = new Set(compiled.checks.filter(isMet).map(({ step }) => step));
  return compiled.steps.filter(({ id }) => steps.has(id));
}

/**
 * Ids of the checks that must be answered before a stove is wholly checked, in their order.
 * isShort: a sample was agreed and the stove is not in it: then only the critical checks, and what
 * a critical sum is calculated from.
 * @param {Pick<Check, "id" | "severity" | "inputs">[]} checks
 * @param {boolean} isShort
 */
export function neededChecks(checks, isShort) {
  /** @type {Set<string>} */
  const needed = new Set();
  const add = (/** @type {string} */ id) => {
    if (needed.has(id)) return;
    needed.add(id);
    (checks.find((check) => check.id === id)?.inputs ?? []).forEach(add);
  };
  for (const { id, severity } of checks) if (!isShort || severity === "critical") add(id);
  return checks.map(({ id }) => id).filter((id) => needed.has(id));
}

/** @type {{answers?: Answers, is_short?: boolean, judgements: Judgements}} */
let judged = { judgements: {} };

/**
 * As judgeAll; a tap asks three times for the same answers. Two drafts never share an object of
 * answers.
 * @param {Checklist} compiled
 * @param {Draft} draft
 */
export function judgeDraft(compiled, draft) {
  const { answers, is_short } = draft;
  if (judged.answers !== answers || judged.is_short !== is_short)
    judged = { answers, is_short, judgements: judgeAll(compiled, draft) };
  return judged.judgements;
}

/**
 * {check_id: {verdict, reason, value}} of the answers so far; what a short or a blind look leaves
 * out is missing, "not-asked".
 * @param {Checklist} compiled
 * @param {Draft} draft
 */
function judgeAll(compiled, draft) {
  const judgements = judgeAnswers(compiled, draft.answers, contextOf(draft));
  const needed = draft.checks ?? neededChecks(compiled.checks, draft.is_short);
  for (const { id } of compiled.checks) {
    if (judgements[id].verdict === "missing" && !needed.includes(id))
      judgements[id].reason = "not-asked";
  }
  return judgements;
}

/** @param {Judgement} judgement */
export const isAsked = (judgement) =>
  !["condition-not-met", "not-asked"].includes(judgement.reason);

/**
 * @param {Draft} draft
 * @returns {Draft}
 */
export function dropCarried(draft) {
  const answers = Object.fromEntries(
    Object.entries(draft.answers).filter(([id]) => !draft.carried.includes(id)),
  );
  return { ...draft, answers, carried: [] };
}
