/**
 * The state of one stove: a pure fold over its events.
 * Twin of qcapp/inspection/stove.py; the rule is tests/vectors/fold/.
 */

import { countsAsFail } from "./judge.js";

// The id is last only so that the order is total, whatever came in.
const CAPTURE_ORDER = ["captured_at", "device_id", "dev_seq", "id"];

/**
 * State of one stove after `events` (in the log's order, unsent ones last).
 * An event may come before the one it corrects; only the order of corrections of one inspection
 * among themselves matters: the later one wins. Corrections of a correction, and voids, lead back
 * to the inspection at the root. What leads to no known inspection waits.
 * @returns {{inspections: object[], disposition: string|null, corrected_twice: boolean}}
 */
export function foldStove(events) {
  const byId = new Map();
  for (const event of events) if (!byId.has(event.id)) byId.set(event.id, event);
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
  return {
    inspections,
    disposition: inspections.at(-1)?.body.disposition.kind ?? null,
    corrected_twice: inspections.some((inspection) => inspection.corrected > 1),
  };
}

function findRootId(event, byId) {
  if (event.kind !== "correction" && event.kind !== "void") return null;
  const seen = new Set();
  let target = byId.get(event.corrects);
  while (target?.kind === "correction" && !seen.has(target.id)) {
    seen.add(target.id);
    target = byId.get(target.corrects);
  }
  return target?.kind === "inspection" ? target.id : null;
}

function compareCapture(one, other) {
  for (const key of CAPTURE_ORDER) {
    if (one[key] !== other[key]) return one[key] < other[key] ? -1 : 1;
  }
  return 0;
}

/** The inspection as it counts now: who, when and what for stay, the body is the last one. */
function buildEffective(root, corrections) {
  const { id, captured_at, inspector, device_id, batch, checklist_hash } = root;
  return {
    id, captured_at, inspector, device_id, batch, checklist_hash,
    body: corrections.length > 0 ? corrections.at(-1).body.replacement : root.body,
    corrected: corrections.length,
    photos: [...new Set([root, ...corrections].flatMap((event) => event.photos))],
  };
}

/**
 * {check id: verdict} as the stove stands now, over all its inspections. A later verdict replaces
 * an earlier one, unless it is "missing": a re-inspection need not look at everything again.
 */
export function currentVerdicts(state) {
  const verdicts = {};
  for (const inspection of state.inspections) {
    for (const [checkId, verdict] of Object.entries(inspection.body.verdicts)) {
      if (verdict !== "missing" || !Object.hasOwn(verdicts, checkId)) verdicts[checkId] = verdict;
    }
  }
  return verdicts;
}

/** Ids of the checks that count as failed now, in the checklist's order. */
export function failedChecks(state, checklist) {
  const verdicts = currentVerdicts(state);
  return checklist.checks
    .filter((check) => Object.hasOwn(verdicts, check.id) && countsAsFail(check, verdicts[check.id]))
    .map((check) => check.id);
}
