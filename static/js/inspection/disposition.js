/**
 * What may become of a stove, by what was found on it (ISO 9000 terms).
 * Twin of qcapp/inspection/disposition.py; the rule is tests/vectors/disposition/.
 */

const NEEDING_REASON = ["concession", "hold", "scrap"];

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
