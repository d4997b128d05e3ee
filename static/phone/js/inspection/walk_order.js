// The way round the stove: which check and which part come next, and how a part stands.
import { isAsked, judgeDraft } from "./draft.js";
import { isLeftOut } from "./judge.js";
import { isCalculated, isTick } from "./kinds.js";

/**
 * Checks of a part that this stove is asked, readings first.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 */
export function checksOfPart(compiled, judgements, part) {
  return compiled.checks
    .filter((check) => check.part === part && isAsked(judgements[check.id]))
    .sort((a, b) => rankOf(a) - rankOf(b));
}

/**
 * Parts in walk order that have anything to ask of this stove.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 */
export function walkParts(compiled, judgements) {
  return compiled.parts.filter((part) => checksOfPart(compiled, judgements, part.id).length > 0);
}

/**
 * Waits for the inspector. A calculated check waits only when its inputs are in and it still has
 * no value.
 * @param {Check} check
 * @param {Judgements} judgements
 */
export function isOpen(check, judgements) {
  if (!isLeftOut(judgements[check.id])) return false;
  if (!isCalculated(check)) return true;
  return check.inputs.every((id) => judgements[id].verdict !== "missing");
}

/**
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 */
export function openChecks(compiled, judgements, part) {
  return checksOfPart(compiled, judgements, part).filter((check) => isOpen(check, judgements));
}

/**
 * The first of the list after the given id, round the end, for which `isWanted` holds; null when
 * there is none.
 * @template {{id: string}} T
 * @param {T[]} list
 * @param {string | undefined} after
 * @param {(item: T) => boolean} isWanted
 * @returns {T | null}
 */
function findAfter(list, after, isWanted) {
  const start = list.findIndex(({ id }) => id === after) + 1;
  return [...list.slice(start), ...list.slice(0, start)].find(isWanted) ?? null;
}

/**
 * Next open check of the part after the given one, round the end; null when the part is done.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 * @param {string | undefined} [after]
 */
export function nextOpenCheck(compiled, judgements, part, after) {
  return findAfter(checksOfPart(compiled, judgements, part), after, (check) =>
    isOpen(check, judgements),
  );
}

/**
 * Next part with an open check after the given one, round the end; null when all are done.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string | undefined} [after]
 */
export function nextOpenPart(compiled, judgements, after) {
  const hasOpen = (/** @type {Part} */ { id }) => openChecks(compiled, judgements, id).length > 0;
  return findAfter(walkParts(compiled, judgements), after, hasOpen);
}

/**
 * The same draft at the first open check of the part, or at the review when there is no part left.
 * @param {Checklist} compiled
 * @param {Draft} draft
 * @param {Judgements} judgements
 * @param {Part | null} part
 * @returns {Draft}
 */
export function moveToPart(compiled, draft, judgements, part) {
  if (!part) return { ...draft, typed: null, at: { part: null, check: null, screen: "review" } };
  const check = nextOpenCheck(compiled, judgements, part.id);
  return { ...draft, typed: null, at: { part: part.id, check: check?.id ?? null } };
}

/**
 * @param {Checklist} compiled
 * @param {Draft} draft
 */
export function moveToFirstOpen(compiled, draft) {
  const judgements = judgeDraft(compiled, draft);
  return moveToPart(compiled, draft, judgements, nextOpenPart(compiled, judgements));
}

/**
 * How a part stands: fail, missing (open), doubtful or pass; what shows on the drawing.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 * @returns {"fail" | "missing" | "doubtful" | "pass"}
 */
export function judgePart(compiled, judgements, part) {
  const found = checksOfPart(compiled, judgements, part).map((check) => judgements[check.id]);
  const verdicts = found
    .filter((judgement) => judgement.verdict !== "missing" || isLeftOut(judgement))
    .map(({ verdict }) => verdict);
  if (verdicts.includes("fail")) return "fail";
  if (verdicts.includes("missing")) return "missing";
  return verdicts.includes("doubtful") ? "doubtful" : "pass";
}

/**
 * What can hurt someone, or takes its time, is answered by itself.
 * @param {Pick<Check, "severity" | "lasts_seconds">} check
 */
const isAlone = ({ severity, lasts_seconds }) => severity === "critical" || Boolean(lasts_seconds);

/**
 * Ticks one tap may pass together: two or more open ones, and only when nothing else of the part is
 * open.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 */
export function ticksToPass(compiled, judgements, part) {
  const open = openChecks(compiled, judgements, part);
  const ticks = open.filter(isGroupable);
  return { ticks: ticks.length > 1 ? ticks : [], isReady: ticks.length === open.length };
}

/** @param {Check} check */
export const isGroupable = (check) => isTick(check) && !isAlone(check);

// Readings come before what is judged by eye and hand, and what is answered by itself before the
// rest, so that one tap may pass what is left of a part.
/** @param {Check} check */
const rankOf = (check) =>
  [isCalculated, isTickAlone, isTick].findIndex((isKind) => isKind(check));

/** @param {Check} check */
const isTickAlone = (check) => isTick(check) && isAlone(check);
