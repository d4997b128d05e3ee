// The clock of a check that lasts: when it began is kept in the draft, so that it runs on while the
// phone sleeps or the page is ended.

/**
 * @param {Draft} draft
 * @param {string} checkId
 * @param {string} now UTC
 * @returns {Draft}
 */
export function startTimer(draft, checkId, now) {
  return { ...draft, timer: { check: checkId, started_at: now } };
}

/**
 * Whole seconds since it began; null when it was not started for this check.
 * @param {Pick<Draft, "timer">} draft
 * @param {string} checkId
 * @param {string} now UTC
 */
export function elapsedSeconds({ timer }, checkId, now) {
  if (timer?.check !== checkId) return null;
  return Math.max(0, Math.floor((Date.parse(now) - Date.parse(timer.started_at)) / 1000));
}

/**
 * How a verdict on a check that lasts was given, for the record: when its time was up, or before.
 * @param {Draft} draft
 * @param {Pick<Check, "id" | "lasts_seconds">} check
 * @param {string} now UTC
 * @returns {Pick<Answer, "given" | "timed_s">}
 */
export function timedFields(draft, { id, lasts_seconds }, now) {
  const elapsed = elapsedSeconds(draft, id, now);
  const isUp = elapsed !== null && elapsed >= Number(lasts_seconds);
  return { given: isUp ? "timed" : "single", timed_s: elapsed ?? undefined };
}

/**
 * Whether a check that lasts was passed before its time was up.
 * @param {Pick<Check, "lasts_seconds">} check
 * @param {Answer | undefined} answer
 */
export const isCutShort = ({ lasts_seconds }, answer) =>
  Boolean(lasts_seconds) && answer?.mark === "pass" && answer.given !== "timed";
