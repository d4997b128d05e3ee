// From a finished draft to the fields of its record.
import { patchAnswer } from "./answers.js";
import { allowedDispositions, proposeDisposition } from "./disposition.js";
import { isAsked, judgeDraft } from "./draft.js";
import { countsAsFail, hindersRelease, isLeftOut } from "./judge.js";
import { isCalculated } from "./kinds.js";
import { isCutShort } from "./timer.js";

/**
 * Every fault named for a check, the one it counts under first.
 * @param {Pick<Answer, "fault" | "more_faults">} answer
 */
export const listFaults = ({ fault, more_faults = [] }) => (fault ? [fault, ...more_faults] : []);

// A fault that every measured check has, beside its own.
export const CANNOT_MEASURE = "cannot-measure";

/**
 * The side of its limits that a value is on, or undefined.
 * @param {Judgement} judgement
 */
export const sideOf = ({ reason }) =>
  /** @type {Record<string, "below" | "above">} */ ({ lower: "below", upper: "above" })[
    reason.split("-")[1]
  ];

/**
 * The fault that a number's side or a one-entry list leaves no doubt about, else null.
 * @param {Pick<Check, "faults">} check
 * @param {Judgement} judgement
 * @returns {string | null}
 */
export function obviousFault(check, judgement) {
  if (judgement.reason === "cannot-measure") return CANNOT_MEASURE;
  if (check.faults.length === 1) return check.faults[0].id;
  const side = sideOf(judgement);
  const fitting = check.faults.filter((fault) => side && fault.side === side);
  return fitting.length === 1 ? fitting[0].id : null;
}

/**
 * Failed checks get their plain fault where the inspector named none.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @param {Judgements} judgements
 * @returns {Draft}
 */
function withObviousFaults(compiled, draft, judgements) {
  return compiled.checks.reduce((done, check) => {
    const judgement = judgements[check.id];
    const fault = countsAsFail(check, judgement.verdict) && obviousFault(check, judgement);
    return fault && !done.answers[check.id]?.fault ? patchAnswer(done, check.id, { fault }) : done;
  }, draft);
}

/**
 * What the review shows: checks by verdict, those whose fault is not named, dispositions in order
 * of proposal.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @returns {DraftSummary}
 */
export function summarize(compiled, draft) {
  const judgements = judgeDraft(compiled, draft);
  const named = withObviousFaults(compiled, draft, judgements);
  const withVerdict = (/** @type {Verdict} */ verdict) =>
    compiled.checks.filter((check) => judgements[check.id].verdict === verdict);
  const failing = compiled.checks.filter((check) =>
    countsAsFail(check, judgements[check.id].verdict),
  );
  const isOpen = (/** @type {Check} */ { id }) =>
    isAsked(judgements[id]) && isLeftOut(judgements[id]);
  const missing = compiled.checks.filter(isOpen);
  const hindering = compiled.checks.filter((check) => hindersRelease(check, judgements[check.id]));
  const skipped = compiled.checks.filter(
    ({ id }) => judgements[id].reason === "marked-not-applicable",
  );
  const shortened = compiled.checks.filter(
    (check) => !draft.carried.includes(check.id) && isCutShort(check, draft.answers[check.id]),
  );
  const allowed = allowedDispositions(
    hindering.map((check) => check.severity),
    missing.length > 0,
  );
  return {
    judgements,
    missing,
    failing,
    skipped,
    shortened,
    failed: withVerdict("fail"),
    doubtful: withVerdict("doubtful"),
    unnamed: failing.filter((check) => check.faults.length > 1 && !named.answers[check.id]?.fault),
    allowed,
    proposed: proposeDisposition(allowed, skipped.length > 0),
  };
}

/**
 * Answers given in this inspection, and carried readings that a new one is calculated with.
 * @param {Checklist} compiled
 * @param {Draft} draft
 */
function recordedAnswers(compiled, draft) {
  const isNew = (/** @type {string} */ id) => id in draft.answers && !draft.carried.includes(id);
  const used = compiled.checks
    .filter((check) => isCalculated(check) && check.inputs.some(isNew))
    .flatMap((check) => check.inputs);
  return Object.fromEntries(
    Object.entries(draft.answers).filter(([id]) => isNew(id) || used.includes(id)),
  );
}

/**
 * Body of the inspection event. disposition = {kind, reason?}.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @param {{kind: Disposition | null, reason?: string}} disposition
 */
export function inspectionBody(compiled, draft, disposition) {
  const recorded = { ...draft, answers: recordedAnswers(compiled, draft) };
  const judgements = judgeDraft(compiled, recorded);
  const { answers } = withObviousFaults(compiled, recorded, judgements);
  const verdicts = Object.fromEntries(
    compiled.checks.map((check) => [check.id, judgements[check.id].verdict]),
  );
  const { size, batch_attributes, started_at, crew, made_from = {} } = draft;
  return {
    size,
    batch_attributes,
    started_at,
    crew,
    answers,
    verdicts,
    disposition,
    ...(draft.is_short && { scope: "critical" }),
    ...(Object.keys(made_from).length > 0 && { made_from }),
    ...(draft.reworked_by && { reworked_by: draft.reworked_by }),
  };
}

/**
 * Of a first piece: what was asked of it, and whether anything failed.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @param {ReturnType<typeof inspectionBody>} body
 */
function firstPieceBody({ checks }, { first_piece, checks: asked = [] }, body) {
  const { size, batch_attributes, started_at, answers } = body;
  const verdicts = Object.fromEntries(asked.map((id) => [id, body.verdicts[id]]));
  const is_good = !checks.some((check) => countsAsFail(check, body.verdicts[check.id]));
  return { ...first_piece, size, batch_attributes, started_at, answers, verdicts, is_good };
}

/**
 * Fields handed to the outbox; reason is asked for a correction only. A blind look (draft.look) is
 * of no stove's history, and neither is a first piece.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @param {{kind: Disposition | null, reason?: string}} disposition
 * @param {string | undefined} reason
 * @returns {EventFields}
 */
export function recordFields(compiled, draft, disposition, reason) {
  const body = inspectionBody(compiled, draft, disposition);
  const { kind, inspector, batch, stage, stove, checklist, checklist_hash } = draft;
  const photos = [...new Set(Object.values(body.answers).flatMap((answer) => answer.photos ?? []))];
  const fields = { kind, inspector, batch, stage, stove, checklist, checklist_hash, photos };
  if (draft.look)
    return { kind, inspector, photos, body: { ...draft.look, answers: body.answers } };
  if (draft.first_piece) {
    const { stage: _, stove: __, ...rest } = fields;
    return { ...rest, body: firstPieceBody(compiled, draft, body) };
  }
  if (kind !== "correction") return { ...fields, body };
  return { ...fields, corrects: draft.corrects, body: { reason, replacement: body } };
}
