// The walk by tool: each is taken in hand once, and no check comes before what makes it safe.
import { judgeDraft } from "./draft.js";
import {
  checksOfPart,
  isGroupable,
  isOpen,
  openChecks,
  ticksToPass,
  walkParts,
} from "./walk_order.js";

/**
 * Checks that this stove is asked, by tool; those without one first. Among those of one tool the
 * order is that of the parts.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @returns {Check[]}
 */
export function checksByTool(compiled, judgements) {
  const order = [undefined, ...(compiled.tools ?? []).map(({ id }) => id)];
  const placeOf = (/** @type {Check} */ { tool }) => order.indexOf(tool ?? undefined);
  const waiting = walkParts(compiled, judgements)
    .flatMap(({ id }) => checksOfPart(compiled, judgements, id))
    .sort((a, b) => placeOf(a) - placeOf(b));
  /** @type {Check[]} */
  const placed = [];
  while (waiting.length > 0) {
    const isBefore = (/** @type {string} */ id) => waiting.some((check) => check.id === id);
    const ready = waiting.findIndex(({ after }) => !(after ?? []).some(isBefore));
    placed.push(...waiting.splice(Math.max(0, ready), 1));
  }
  return placed;
}

/**
 * The next open check in that order after the given one, round the end; null when there is none.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string | null} [after]
 */
export function nextByTool(compiled, judgements, after) {
  const checks = checksByTool(compiled, judgements);
  const start = checks.findIndex(({ id }) => id === after) + 1;
  const round = [...checks.slice(start), ...checks.slice(0, start)];
  return round.find((check) => isOpen(check, judgements)) ?? null;
}

/**
 * How often another tool is taken in hand.
 * @param {Pick<Check, "tool">[]} checks
 */
export const countToolChanges = (checks) =>
  checks.filter(({ tool }, at) => at > 0 && tool !== checks[at - 1].tool).length;

/**
 * The same draft at a check, or at the review when there is none left.
 * @param {Draft} draft
 * @param {Check | null} check
 * @returns {Draft}
 */
export function moveToCheck(draft, check) {
  const at = check
    ? { part: check.part, check: check.id }
    : { part: null, check: null, screen: /** @type {const} */ ("review") };
  return { ...draft, typed: null, at };
}

/**
 * The same draft at its first open check.
 * @param {Checklist} compiled
 * @param {Draft} draft
 */
export const moveToFirstByTool = (compiled, draft) =>
  moveToCheck(draft, nextByTool(compiled, judgeDraft(compiled, draft)));

/**
 * Ticks that one tap may pass together: two or more open ones of the part; by tool those of the
 * open check's tool, by part only when nothing else of it is open.
 * @param {Checklist} compiled
 * @param {Judgements} judgements
 * @param {string} part
 * @param {Check | null} current the open check of a walk by tool; null of one by part
 * @returns {Check[]}
 */
export function findGroup(compiled, judgements, part, current) {
  if (!current) {
    const { ticks, isReady } = ticksToPass(compiled, judgements, part);
    return isReady ? ticks : [];
  }
  const same = openChecks(compiled, judgements, part).filter(
    (check) => isGroupable(check) && check.tool === current.tool,
  );
  return same.length > 1 && same.includes(current) ? same : [];
}
