/**
 * What may become of a stove, by what was found on it (ISO 9000 terms).
 * Twin of qcapp/inspection/disposition.py; the rule is tests/vectors/disposition/.
 */

const NEEDING_REASON = ["concession", "hold", "scrap"];

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
  return NEEDING_REASON.includes(disposition);
}
