// The inspection being made: a plain object that is stored at every tap.
// Every function here gives back a new draft or reads one; no clock, no storage, no page.
import { allowedDispositions, countsAsFail, judgeAnswers, judgeCheck } from "./judge.js";

// Readings come before what is judged by eye and hand, so that one tap may pass all ticks of a part.
const rankOf = ({ kind }) => ["calculated", "tick"].indexOf(kind);

/** Whether a sample was agreed for this stage and the stove is not in it: then only critical checks are asked. */
export function isShort({ sample }, stage, stove) {
  return sample?.stage === stage && !sample.serials.includes(stove);
}

/** A draft for a stove nobody has started: {compiled, hash, batch, stove, inspector, crew, started_at}. */
export function newDraft({ compiled, hash, batch, stove, inspector, crew, started_at }) {
  return {
    key: `${compiled.stage}/${stove}`,
    kind: "inspection",
    stage: compiled.stage,
    stove,
    batch: batch.code,
    size: batch.size,
    batch_attributes: batch.attributes ?? {},
    checklist: `${compiled.id}@${compiled.revision}`,
    checklist_hash: hash,
    inspector,
    crew,
    started_at,
    is_short: isShort(batch, compiled.stage, stove),
    answers: {},
    carried: [],
    at: { part: null, check: null },
    is_open: true,
  };
}

/** A blind look: nothing given before is in it. look: {study, stove, repeat} as recorded; checks: ids asked, all when absent. */
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

/** Answers of several inspections of one stove put together: what was given later replaces what was before. */
function mergeAnswers(inspections) {
  return Object.assign({}, ...inspections.map((inspection) => inspection.body.answers));
}

/** A calculated check and its inputs are settled together: one new reading makes the old sum worthless. */
function unsettledChecks(compiled, judgements) {
  const isSettled = (check, { verdict }) => verdict !== "missing" && !countsAsFail(check, verdict);
  const unsettled = new Set(
    compiled.checks
      .filter((check) => !isSettled(check, judgements[check.id]))
      .map((check) => check.id),
  );
  for (const check of compiled.checks.filter(({ kind }) => kind === "calculated")) {
    if ([check.id, ...check.inputs].some((id) => unsettled.has(id)))
      check.inputs.forEach((id) => unsettled.add(id));
  }
  return unsettled;
}

/**
 * A second look: what failed or was missing is asked again; the rest is carried, which means
 * shown and used for the disposition, but not recorded as looked at again. inspections: as folded, not empty.
 */
export function newReinspection(fields, inspections) {
  const draft = { ...newDraft(fields), crew: inspections.at(-1).body.crew };
  const before = mergeAnswers(inspections);
  const judgements = judgeDraft(fields.compiled, { ...draft, answers: before });
  const unsettled = unsettledChecks(fields.compiled, judgements);
  const carried = fields.compiled.checks
    .map(({ id }) => id)
    .filter((id) => before[id] && !unsettled.has(id));
  return { ...draft, answers: Object.fromEntries(carried.map((id) => [id, before[id]])), carried };
}

/** A correction of inspections[index]: starts from its answers and replaces its whole body. */
export function newCorrection({ stage, stove, checklist, inspector }, inspections, index) {
  const { id, batch, checklist_hash, body } = inspections[index];
  const { size, batch_attributes, crew, started_at } = body;
  const answers = mergeAnswers(inspections.slice(0, index + 1));
  return {
    key: `${stage}/${stove}/correction`,
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
    started_at,
    is_short: body.scope === "critical",
    answers,
    carried: Object.keys(answers).filter((check) => !body.answers[check]),
    at: { part: null, check: null, screen: "review" },
    is_open: true,
    corrects: id,
  };
}

export function contextOf(draft) {
  return { size: draft.size, batch: draft.batch_attributes };
}

/**
 * Ids of the checks that must be answered before a stove is wholly checked, in their order.
 * isShort: a sample was agreed and the stove is not in it: then only the critical checks, and what
 * a critical sum is calculated from.
 */
export function neededChecks(checks, isShort) {
  const needed = new Set();
  const add = (id) => {
    if (needed.has(id)) return;
    needed.add(id);
    (checks.find((check) => check.id === id)?.inputs ?? []).forEach(add);
  };
  for (const { id, severity } of checks) if (!isShort || severity === "critical") add(id);
  return checks.map(({ id }) => id).filter((id) => needed.has(id));
}

let judged = {};

/** As judgeAll; a tap asks three times for the same answers. Two drafts never share an object of answers. */
export function judgeDraft(compiled, draft) {
  const { answers, is_short } = draft;
  if (judged.answers !== answers || judged.is_short !== is_short)
    judged = { answers, is_short, judgements: judgeAll(compiled, draft) };
  return judged.judgements;
}

/** {check_id: {verdict, reason, value}} of the answers so far; what a short or a blind look leaves out is missing, "not-asked". */
function judgeAll(compiled, draft) {
  const judgements = judgeAnswers(compiled, draft.answers, contextOf(draft));
  const needed = draft.checks ?? neededChecks(compiled.checks, draft.is_short);
  for (const { id } of compiled.checks) {
    if (judgements[id].verdict === "missing" && !needed.includes(id))
      judgements[id].reason = "not-asked";
  }
  return judgements;
}

export function setAnswer(draft, checkId, answer) {
  return {
    ...draft,
    answers: { ...draft.answers, [checkId]: answer },
    carried: draft.carried.filter((id) => id !== checkId),
  };
}

/** Adds to an answer (note, fault, photos); a value of undefined takes the key away. */
export function patchAnswer(draft, checkId, change) {
  const merged = { ...draft.answers[checkId], ...change };
  const kept = Object.entries(merged).filter(([, value]) => value !== undefined);
  return setAnswer(draft, checkId, Object.fromEntries(kept));
}

/** Readings that stand beside the one being typed: a measure's second one goes when the first is typed again. */
export function readingsBeside(check, values, index) {
  return check.kind === "measure" ? values.slice(0, index) : [...values];
}

/** Puts one reading in its place; the other places stay as they are. */
export function setReading(draft, check, index, text) {
  const values = readingsBeside(check, draft.answers[check.id]?.values ?? [], index);
  values[index] = text;
  return patchAnswer(draft, check.id, { values, mark: undefined, fault: undefined });
}

/** Index of the reading to type next, 0 when all are there (typing again). */
export function openReading(draft, check) {
  const have = draft.answers[check.id]?.values?.length ?? 0;
  const need = check.kind === "readings" ? check.n : 1;
  return have < need || asksTwice(draft, check) ? have : 0;
}

/** Whether a second reading is wanted: of a measure whose only reading is too close to call. */
export function asksTwice(draft, check) {
  return (
    check.kind === "measure" &&
    draft.answers[check.id]?.values?.length === 1 &&
    judgeCheck(check, draft.answers, contextOf(draft)).verdict === "doubtful"
  );
}

export function dropCarried(draft) {
  const answers = Object.fromEntries(
    Object.entries(draft.answers).filter(([id]) => !draft.carried.includes(id)),
  );
  return { ...draft, answers, carried: [] };
}

const isAsked = (judgement) => !["condition-not-met", "not-asked"].includes(judgement.reason);

/** Checks of a part that this stove is asked, readings first. */
export function checksOfPart(compiled, judgements, part) {
  return compiled.checks
    .filter((check) => check.part === part && isAsked(judgements[check.id]))
    .sort((a, b) => rankOf(a) - rankOf(b));
}

/** Parts in walk order that have anything to ask of this stove. */
export function walkParts(compiled, judgements) {
  return compiled.parts.filter((part) => checksOfPart(compiled, judgements, part.id).length > 0);
}

/** Waits for the inspector. A calculated check waits only when its inputs are in and it still has no value. */
export function isOpen(check, judgements) {
  if (judgements[check.id].verdict !== "missing") return false;
  if (check.kind !== "calculated") return true;
  return check.inputs.every((id) => judgements[id].verdict !== "missing");
}

export function openChecks(compiled, judgements, part) {
  return checksOfPart(compiled, judgements, part).filter((check) => isOpen(check, judgements));
}

/** The first of the list after the given id, round the end, for which `isWanted` holds; null when there is none. */
function findAfter(list, after, isWanted) {
  const start = list.findIndex(({ id }) => id === after) + 1;
  return [...list.slice(start), ...list.slice(0, start)].find(isWanted) ?? null;
}

/** Next open check of the part after the given one, round the end; null when the part is done. */
export function nextOpenCheck(compiled, judgements, part, after) {
  return findAfter(checksOfPart(compiled, judgements, part), after, (check) =>
    isOpen(check, judgements),
  );
}

/** Next part with an open check after the given one, round the end; null when all are done. */
export function nextOpenPart(compiled, judgements, after) {
  return findAfter(walkParts(compiled, judgements), after, ({ id }) =>
    nextOpenCheck(compiled, judgements, id),
  );
}

/** The same draft at the first open check of the part, or at the review when there is no part left. */
export function atPart(compiled, draft, judgements, part) {
  if (!part) return { ...draft, typed: null, at: { part: null, check: null, screen: "review" } };
  const check = nextOpenCheck(compiled, judgements, part.id);
  return { ...draft, typed: null, at: { part: part.id, check: check?.id ?? null } };
}

export function atFirstOpen(compiled, draft) {
  const judgements = judgeDraft(compiled, draft);
  return atPart(compiled, draft, judgements, nextOpenPart(compiled, judgements));
}

/** How a part stands: fail, missing (open), doubtful or pass; what shows on the drawing. */
export function judgePart(compiled, judgements, part) {
  const verdicts = checksOfPart(compiled, judgements, part).map(
    (check) => judgements[check.id].verdict,
  );
  return ["fail", "missing", "doubtful"].find((verdict) => verdicts.includes(verdict)) ?? "pass";
}

/** Ticks one tap may pass together: two or more open ones, and only when no reading of the part is open. */
export function ticksToPass(compiled, judgements, part) {
  const open = openChecks(compiled, judgements, part);
  const ticks = open.filter((check) => check.kind === "tick");
  return { ticks: ticks.length > 1 ? ticks : [], isReady: ticks.length === open.length };
}

export function passTicks(draft, ticks) {
  return ticks.reduce(
    (done, check) => patchAnswer(done, check.id, { mark: "pass", fault: undefined }),
    draft,
  );
}

/** The fault that a number's side or a one-entry list leaves no doubt about, else null. */
export function plainFault(check, judgement) {
  if (check.faults.length === 1) return check.faults[0].id;
  const side = { lower: "below", upper: "above" }[judgement.reason.split("-")[1]];
  const fitting = check.faults.filter((fault) => side && fault.side === side);
  return fitting.length === 1 ? fitting[0].id : null;
}

/** Failed checks get their plain fault where the inspector named none. */
function withPlainFaults(compiled, draft, judgements) {
  return compiled.checks.reduce((done, check) => {
    const judgement = judgements[check.id];
    const fault = countsAsFail(check, judgement.verdict) && plainFault(check, judgement);
    return fault && !done.answers[check.id]?.fault ? patchAnswer(done, check.id, { fault }) : done;
  }, draft);
}

/** What the review shows: checks by verdict, those whose fault is not named, dispositions in order of proposal. */
export function sumUp(compiled, draft) {
  const judgements = judgeDraft(compiled, draft);
  const named = withPlainFaults(compiled, draft, judgements);
  const withVerdict = (verdict) =>
    compiled.checks.filter((check) => judgements[check.id].verdict === verdict);
  const failing = compiled.checks.filter((check) =>
    countsAsFail(check, judgements[check.id].verdict),
  );
  const missing = withVerdict("missing").filter(({ id }) => isAsked(judgements[id]));
  return {
    judgements,
    missing,
    failing,
    failed: withVerdict("fail"),
    doubtful: withVerdict("doubtful"),
    unnamed: failing.filter((check) => check.faults.length > 1 && !named.answers[check.id]?.fault),
    allowed: allowedDispositions(
      failing.map((check) => check.severity),
      missing.length > 0,
    ),
  };
}

/** Answers given in this inspection, and carried readings that a new one is calculated with. */
function recordedAnswers(compiled, draft) {
  const isNew = (id) => id in draft.answers && !draft.carried.includes(id);
  const used = compiled.checks
    .filter((check) => check.kind === "calculated" && check.inputs.some(isNew))
    .flatMap((check) => check.inputs);
  return Object.fromEntries(
    Object.entries(draft.answers).filter(([id]) => isNew(id) || used.includes(id)),
  );
}

/** Body of the inspection event. disposition = {kind, reason?}. */
export function inspectionBody(compiled, draft, disposition) {
  const recorded = { ...draft, answers: recordedAnswers(compiled, draft) };
  const judgements = judgeDraft(compiled, recorded);
  const { answers } = withPlainFaults(compiled, recorded, judgements);
  const verdicts = Object.fromEntries(
    compiled.checks.map((check) => [check.id, judgements[check.id].verdict]),
  );
  const { size, batch_attributes, started_at, crew } = draft;
  return {
    size,
    batch_attributes,
    started_at,
    crew,
    answers,
    verdicts,
    disposition,
    ...(draft.is_short && { scope: "critical" }),
  };
}

/** Fields handed to the outbox; reason is asked for a correction only. A blind look (draft.look) is of no stove's history. */
export function recordFields(compiled, draft, disposition, reason) {
  const body = inspectionBody(compiled, draft, disposition);
  const { kind, inspector, batch, stage, stove, checklist, checklist_hash } = draft;
  const photos = [...new Set(Object.values(body.answers).flatMap((answer) => answer.photos ?? []))];
  const fields = { kind, inspector, batch, stage, stove, checklist, checklist_hash, photos };
  if (draft.look)
    return { kind, inspector, photos, body: { ...draft.look, answers: body.answers } };
  if (kind !== "correction") return { ...fields, body };
  return { ...fields, corrects: draft.corrects, body: { reason, replacement: body } };
}
