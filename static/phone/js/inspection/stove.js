// The state of one stove: a pure fold over its events. Twin of qcapp/inspection/stove.py; the rule
// is tests/vectors/fold/.

// The id is last only so that the order is total, whatever came in.
const CAPTURE_ORDER = /** @type {const} */ (["captured_at", "device_id", "dev_seq", "id"]);

/**
 * State of one stove after `events` (in the log's order, unsent ones last). An event may come
 * before the one it corrects; only the order of corrections of one inspection among themselves
 * matters: the later one wins. Corrections of a correction, and voids, lead back to the inspection
 * at the root. What leads to no known inspection waits. What people decided about records that
 * the server held back comes first.
 * @param {SealedEvent[]} events
 * @returns {StoveState}
 */
export function foldStove(events) {
  const byId = applyQuarantineDecisions(events);
  const corrections = new Map();
  const voided = new Set();
  for (const event of byId.values()) {
    const rootId = findRootId(event, byId);
    if (rootId === null) continue;
    if (event.kind === "void") voided.add(rootId);
    else corrections.set(rootId, [...(corrections.get(rootId) ?? []), event]);
  }
  const inspections = [...byId.values()]
    .filter((event) => event.kind === "inspection" && !voided.has(event.id))
    .sort(compareCapture)
    .map((root) => buildEffective(root, corrections.get(root.id) ?? []));
  const last = inspections.at(-1);
  const kind = last?.body?.disposition?.kind ?? null;
  const newest = corrections.get(last?.id)?.at(-1).id ?? last?.id ?? null;
  const decided = kind === "hold" ? findHoldDecision([...byId.values()], newest) : null;
  return {
    inspections,
    disposition: decided?.kind ?? kind,
    newest,
    decided,
    corrected_twice: inspections.some((inspection) => inspection.corrected > 1),
  };
}

/**
 * In rework or held.
 * @param {Pick<StoveState, "disposition">} state
 */
export const isHeld = ({ disposition }) => disposition === "rework" || disposition === "hold";

/**
 * {id: event} as it counts after every quarantine decision, in order; those themselves left out. A
 * decision is about one content (`original_hash`) under an id, and the latest one about it stands.
 * An accepted content (`body.event`) counts under its id from the place of its decision, the
 * latest of several; a rejected content does not count; else the first one does.
 * @param {SealedEvent[]} events
 */
function applyQuarantineDecisions(events) {
  const decisions = new Map();
  for (const event of events.filter(({ kind }) => kind === "quarantine_decision")) {
    const target = `${event.corrects} ${event.body.original_hash}`;
    // A later decision also takes the later place.
    decisions.delete(target);
    decisions.set(target, event);
  }
  const accepted = new Map(
    [...decisions.values()]
      .filter(({ body }) => body.action === "accept")
      .map((event) => [event.corrects, event.id]),
  );
  const byId = new Map();
  for (const event of events) {
    const { id, hash, kind, corrects, body } = event;
    if (kind === "quarantine_decision") {
      if (accepted.get(corrects) === id) byId.set(corrects, body.event);
    } else if (!accepted.has(id) && !decisions.has(`${id} ${hash}`) && !byId.has(id))
      byId.set(id, event);
  }
  return byId;
}

/**
 * @param {SealedEvent} event
 * @param {Map<string, SealedEvent>} byId
 */
function findRootId(event, byId) {
  if (event.kind !== "correction" && event.kind !== "void") return null;
  const seen = new Set();
  let target = byId.get(event.corrects ?? "");
  while (target?.kind === "correction" && !seen.has(target.id)) {
    seen.add(target.id);
    target = byId.get(target.corrects ?? "");
  }
  return target?.kind === "inspection" ? target.id : null;
}

/**
 * The last decision about the inspection as it stands. One about an earlier content, or about an
 * inspection that is no longer the last, says nothing.
 * @param {SealedEvent[]} events
 * @param {string} newest id of its newest content
 * @returns {HoldDecision | null}
 */
function findHoldDecision(events, newest) {
  const about = events.filter(
    ({ kind, corrects }) => kind === "hold_decision" && corrects === newest,
  );
  const last = about.at(-1);
  if (!last || last.body.disposition.kind === "hold") return null;
  return { by: last.inspector, at: last.captured_at, ...last.body.disposition };
}

/**
 * @param {SealedEvent} one
 * @param {SealedEvent} other
 */
function compareCapture(one, other) {
  for (const key of CAPTURE_ORDER) {
    if (one[key] !== other[key]) return one[key] < other[key] ? -1 : 1;
  }
  return 0;
}

/**
 * The inspection as it counts now: who, when and what for stay, the body is the last one.
 * @param {SealedEvent} root
 * @param {SealedEvent[]} corrections
 * @returns {Inspection}
 */
function buildEffective(root, corrections) {
  const { id, captured_at, inspector, device_id, batch, stove, checklist_hash } = root;
  return {
    id,
    captured_at,
    inspector,
    device_id,
    batch: batch ?? "",
    stove: stove ?? "",
    checklist_hash: checklist_hash ?? "",
    body: corrections.at(-1)?.body.replacement ?? root.body,
    corrected: corrections.length,
    photos: [...new Set([root, ...corrections].flatMap((event) => event.photos))],
  };
}
