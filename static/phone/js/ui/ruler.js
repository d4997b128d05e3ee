// The ruler: where a value falls between the limits.
import { s } from "./dom.js";
import { shapeParts } from "./verdict.js";
import { formatNumber } from "./words.js";

const RULER_WIDTH = 320;
const RULER_EDGE = 18;

/**
 * The stretch of numbers the ruler shows: the limits with half their width on both sides.
 * @param {Pick<Limits, "lower" | "nominal" | "upper">} limits
 */
export function rulerRange({ lower, nominal, upper }) {
  // A check has one limit at least.
  const low = lower ?? Math.min(nominal ?? upper ?? 0, upper ?? 0) * 0.5;
  const high = upper ?? Math.max(nominal ?? lower ?? 0, lower ?? 0) * 1.5;
  const margin = Math.max((high - low) / 2, high === low ? Math.max(2, Math.abs(high) * 0.05) : 0);
  return { from: low - margin, to: high + margin };
}

/**
 * @param {ScaleRange} range
 * @param {number} value
 */
const placeOn = ({ from, to }, value) => {
  const share = Math.min(1, Math.max(0, (value - from) / (to - from || 1)));
  return RULER_EDGE + share * (RULER_WIDTH - 2 * RULER_EDGE);
};

/**
 * @param {ScaleRange} range
 * @param {number} value
 */
function limitPost(range, value) {
  const x = placeOn(range, value);
  return [
    s("path", { d: `M${x} 20v22`, class: "post" }),
    s("text", { x, y: 58, "text-anchor": "middle" }, formatNumber(value)),
  ];
}

/**
 * @param {ScaleRange} range
 * @param {number | null} from
 * @param {number | null} to
 */
function guardZone(range, from, to) {
  if (from === null || to === null || from === to) return null;
  const [left, right] = [placeOn(range, from), placeOn(range, to)];
  return s("rect", { x: left, y: 25, width: right - left, height: 12, class: "guard" });
}

const MOVE_MS = 180;

/** Where the needle stood last, so that it is seen to move. */
let stoodAt = RULER_EDGE;

/**
 * The needle, which moves from where it stood; at once for whom moving things disturb.
 * @param {ScaleRange} range
 * @param {Judgement} judgement
 */
function rulerMark(range, judgement) {
  const x = placeOn(range, judgement.value ?? range.from);
  const needle = s(
    "g",
    { class: `mark ${judgement.verdict}`, transform: `translate(${x - 12} 0)` },
    shapeParts(judgement.verdict),
    s("path", { d: "M12 23v16", class: "pointer" }),
  );
  const from = stoodAt;
  stoodAt = x;
  if (from === x || matchMedia("(prefers-reduced-motion: reduce)").matches) return needle;
  const places = [from, x].map((place) => ({ transform: `translate(${place - 12}px, 0)` }));
  needle.animate(places, { duration: MOVE_MS, easing: "ease-out" });
  return needle;
}

/**
 * Drawing of limits, guard zones and the value; the words beside it say the same.
 * @param {Limits | undefined} limits
 * @param {Judgement | null} judgement
 */
export function ruler(limits, judgement) {
  if (!limits) return null;
  const range = rulerRange(limits);
  const { lower, upper, accept_lower, accept_upper } = limits;
  const left = placeOn(range, lower ?? range.from);
  const right = placeOn(range, upper ?? range.to);
  const isExact = lower !== null && lower === upper;
  return s(
    "svg",
    { class: "ruler", viewBox: `0 0 ${RULER_WIDTH} 62`, "aria-hidden": "true" },
    s("path", { d: `M0 31h${RULER_WIDTH}`, class: "base" }),
    s("rect", { x: left, y: 25, width: Math.max(right - left, 2), height: 12, class: "allowed" }),
    guardZone(range, lower, accept_lower),
    guardZone(range, accept_upper, upper),
    lower !== null && limitPost(range, lower),
    upper !== null && !isExact && limitPost(range, upper),
    judgement && judgement.value !== null && rulerMark(range, judgement),
  );
}
