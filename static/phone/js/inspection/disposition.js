// What may become of a stove, by what was found on it (ISO 9000 terms). The rule is
// tests/vectors/disposition/; the other reading of it is qcapp/inspection/disposition.py.

/**
 * Dispositions in order of proposal; the first is the proposed one. A stove with a critical fault
 * can hurt someone, so it is never released, not even by concession; one that was not wholly
 * checked is not known to be good.
 * @param {Severity[]} failedSeverities
 * @param {boolean} hasMissing
 * @returns {Disposition[]}
 */
export function allowedDispositions(failedSeverities, hasMissing) {
  if (hasMissing) return ["hold", "rework", "scrap"];
  if (failedSeverities.includes("critical")) return ["rework", "hold", "scrap"];
  if (failedSeverities.length > 0) return ["rework", "concession", "hold", "scrap"];
  return ["release", "hold"];
}

/**
 * The one that is chosen before anybody chooses; null where a person must. hasSkipped: a check was
 * said not to apply to this stove. That alone lets nobody release it unseen.
 * @param {Disposition[]} allowed
 * @param {boolean} hasSkipped
 * @returns {Disposition | null}
 */
export function proposeDisposition(allowed, hasSkipped) {
  return hasSkipped && allowed[0] === "release" ? null : allowed[0];
}

/**
 * Whether a person must say in words why this disposition was chosen.
 * @param {Disposition | null} disposition
 * @returns {boolean}
 */
export function needsReason(disposition) {
  return disposition !== null && ["concession", "hold", "scrap"].includes(disposition);
}
