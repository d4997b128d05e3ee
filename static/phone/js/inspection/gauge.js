// Templates and gauges as they stand on this phone: what the server said, and checks made since.
// When one is due next is the server's to say exactly (qcapp/inspection/gauges.py); until it has a
// check, the interval stays as it was.

/**
 * A check of one that the pad and the judge take: its master piece is the only thing measured.
 * @param {GaugeAsked} gauge
 */
export function asCheck({ id, unit, lower, value, upper }) {
  const limits = { lower, nominal: value, upper, accept_lower: lower, accept_upper: upper };
  const possible = { lower: value / 2, upper: value * 1.5 };
  const words = { faults: [], when: {}, decision: "simple", uncertainty: 0 };
  const check = { id, kind: "measure", unit, possible, limits: { "": limits }, ...words };
  return /** @type {Check} */ (/** @type {unknown} */ (check));
}

/**
 * The day of a moment here, as YYYY-MM-DD.
 * @param {Date} moment
 */
export function dayOf(moment) {
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  return [moment.getFullYear(), two(moment.getMonth() + 1), two(moment.getDate())].join("-");
}

/**
 * With the newest check that counts here. events: records about it, in any order; now: UTC text.
 * @param {GaugeAsked} gauge
 * @param {SealedEvent[]} events
 * @param {string} now
 * @returns {GaugeState}
 */
export function stateOf(gauge, events, now) {
  const today = dayOf(new Date(now));
  const since = events
    .filter(({ kind, id }) => kind === "gauge_check" && !gauge.voided.includes(id))
    .map(({ captured_at, body }) => ({ at: captured_at, isOutside: body.verdict === "fail" }))
    .filter(({ at }) => at > (gauge.checked_at ?? ""))
    .sort((one, other) => (one.at < other.at ? -1 : 1))
    .at(-1);
  const isOutside = since ? since.isOutside : gauge.is_outside;
  const dueOn = since ? dueAfter(gauge, since) : gauge.due_on;
  return { ...gauge, isOutside, dueOn, isDue: dueOn <= today, isLate: isOutside || dueOn < today };
}

/**
 * @param {GaugeAsked} gauge
 * @param {{at: string, isOutside: boolean}} check
 */
function dueAfter({ interval_days }, { at, isOutside }) {
  const day = new Date(at);
  if (!isOutside) day.setDate(day.getDate() + interval_days);
  return dayOf(day);
}

/**
 * Whether a check looks at what was made or is measured with it.
 * @param {GaugeAsked} gauge
 * @param {Pick<Check, "step" | "tool">} check
 * @param {Record<string, string>} crew artisan by step
 */
export function isUsedFor({ step, tool, artisans }, check, crew) {
  if (tool) return check.tool === tool;
  return check.step === step && (!artisans.length || artisans.includes(crew[check.step]));
}
