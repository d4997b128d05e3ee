// The first piece of a step: which checks it gets, whose is still to check today, what was found.
import { newDraft } from "./draft.js";
import { dayOf } from "./gauge.js";
import { isTyped } from "./kinds.js";

/**
 * Ids of the checks of a first piece in their order: the critical and the measured ones of the
 * step, and what a critical sum is calculated from. The rest of the step waits for the inspection.
 * @param {Pick<Checklist, "checks">} compiled
 * @param {string} step
 */
export function firstPieceChecks({ checks }, step) {
  /** @type {Set<string>} */
  const asked = new Set();
  const add = (/** @type {Check | undefined} */ check) => {
    if (!check || asked.has(check.id)) return;
    asked.add(check.id);
    (check.inputs ?? []).forEach((input) => add(checks.find(({ id }) => id === input)));
  };
  checks
    .filter((check) => check.step === step && (check.severity === "critical" || isTyped(check)))
    .forEach(add);
  return checks.map(({ id }) => id).filter((id) => asked.has(id));
}

/**
 * What records about a step are kept together by: they are of no stove.
 * @param {string} step
 */
export const firstPieceKey = (step) => `first-piece/${step}`;

/**
 * Whose first pieces there are, each once however many batches the maker works on, and by one
 * checklist where several look at the same work.
 * @param {{batch: Batch, checklists: CompiledChecklist[]}[]} open
 * @returns {FirstPieceTask[]}
 */
export function listFirstPieces(open) {
  /** @type {Map<string, FirstPieceTask>} */
  const found = new Map();
  for (const { batch, checklists } of open)
    for (const checklist of checklists)
      for (const id of checklist.compiled.first_piece ?? []) {
        const step = /** @type {Step} */ (checklist.compiled.steps.find((one) => one.id === id));
        const maker = batch.crew?.[step.trade];
        const key = `${id}/${maker}`;
        if (maker && !found.has(key)) found.set(key, { batch, checklist, step, maker });
      }
  return [...found.values()];
}

/**
 * How a first piece stands today: nobody has checked it, it was good, or to be set right first.
 * @param {FirstPieceTask} task
 * @param {SealedEvent[]} events records of its step
 * @param {string} now UTC text
 * @returns {FirstPieceStand}
 */
export function standOf({ step, maker }, events, now) {
  const today = dayOf(new Date(now));
  const own = events
    .filter(({ kind, body, captured_at }) => {
      const isOwn = body.step === step.id && body.maker === maker;
      return kind === "first_piece" && isOwn && dayOf(new Date(captured_at)) === today;
    })
    .sort((one, other) => (one.captured_at < other.captured_at ? -1 : 1));
  const last = own.at(-1);
  if (!last) return "open";
  return last.body.is_good ? "good" : "stop";
}

const REASONS = /** @type {const} */ ({ open: "day", stop: "set_right", good: "new_tool" });

/**
 * A draft of one: its checks only, of no stove's history. title: of the step, where a serial would
 * stand.
 * @param {FirstPieceTask} task
 * @param {FirstPieceStand} stand
 * @param {{inspector: string, started_at: string, title: string}} by
 * @returns {Draft}
 */
export function newFirstPiece({ batch, checklist, step, maker }, stand, by) {
  const { compiled } = checklist;
  const { title, ...fields } = by;
  const draft = newDraft({ ...checklist, batch, stove: title, crew: { [step.id]: maker }, ...fields });
  return {
    ...draft,
    key: `${firstPieceKey(step.id)}/${compiled.id}/${maker}`,
    kind: "first_piece",
    stage: null,
    is_short: false,
    first_piece: { step: step.id, maker, reason: REASONS[stand] },
    checks: firstPieceChecks(compiled, step.id),
  };
}
