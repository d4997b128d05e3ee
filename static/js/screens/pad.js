// Our own number pad, and the ruler that shows where the typed value falls between the limits.
import { parseNumber } from "../checklist/number.js";
import { judgeCheck } from "../inspection/judge.js";
import { formatNumber, h, pick, s, say, separator, shape, shapeParts, showTyped, verdictLine } from "./view.js";

const RULER_WIDTH = 320;
const RULER_EDGE = 18;
// These are judged only by a comparison of several readings, so a single one says nothing yet.
const NEEDS_ALL = ["mean", "range"];

/**
 * What a text being typed would mean: {text, problem, judgement}.
 * problem: empty, not-a-number, not-whole, impossible or null; judgement of the readings so far, or null.
 */
export function judgeTyped(check, values, index, text, context) {
  if (text === "") return { text: null, problem: "empty", judgement: null };
  const canonical = parseNumber(text);
  if (canonical === null) return { text: null, problem: "not-a-number", judgement: null };
  const alone = judgeCheck({ ...check, kind: check.kind === "count" ? "count" : "measure" },
    { [check.id]: { values: [canonical] } }, context);
  const problem = ["not-a-number", "not-whole", "impossible"].includes(alone.reason) ? alone.reason : null;
  if (problem) return { text: canonical, problem, judgement: null };
  return { text: canonical, problem, judgement: judgeSoFar(check, values, index, canonical, context) };
}

function judgeSoFar(check, values, index, canonical, context) {
  const all = [...values];
  all[index] = canonical;
  if (check.kind === "readings" && NEEDS_ALL.includes(check.by) && all.length < check.n) return null;
  return judgeCheck({ ...check, n: all.length }, { [check.id]: { values: all } }, context);
}

/** The stretch of numbers the ruler shows: the limits with half their width on both sides. */
export function rulerRange({ lower, nominal, upper }) {
  const low = lower ?? Math.min(nominal ?? upper, upper) * 0.5;
  const high = upper ?? Math.max(nominal ?? lower, lower) * 1.5;
  const margin = Math.max((high - low) / 2, high === low ? Math.max(2, Math.abs(high) * 0.05) : 0);
  return { from: low - margin, to: high + margin };
}

const placeOn = ({ from, to }, value) => {
  const share = Math.min(1, Math.max(0, (value - from) / (to - from || 1)));
  return RULER_EDGE + share * (RULER_WIDTH - 2 * RULER_EDGE);
};

function limitPost(range, value) {
  const x = placeOn(range, value);
  return [s("path", { d: `M${x} 20v22`, class: "post" }),
    s("text", { x, y: 58, "text-anchor": "middle" }, formatNumber(value))];
}

function guardZone(range, from, to) {
  if (from === null || to === null || from === to) return null;
  const [left, right] = [placeOn(range, from), placeOn(range, to)];
  return s("rect", { x: left, y: 25, width: right - left, height: 12, class: "guard" });
}

function rulerMark(range, judgement) {
  const x = placeOn(range, judgement.value);
  return s("g", { class: `mark ${judgement.verdict}`, transform: `translate(${x - 12} 0)` }, shapeParts(judgement.verdict),
    s("path", { d: "M12 23v16", class: "pointer" }));
}

/** Drawing of limits, guard zones and the value; the words beside it say the same. */
export function ruler(limits, judgement) {
  if (!limits) return null;
  const range = rulerRange(limits);
  const { lower, upper, accept_lower, accept_upper } = limits;
  const left = placeOn(range, lower ?? range.from);
  const right = placeOn(range, upper ?? range.to);
  const isExact = lower !== null && lower === upper;
  return s("svg", { class: "ruler", viewBox: `0 0 ${RULER_WIDTH} 62`, "aria-hidden": "true" },
    s("path", { d: `M0 31h${RULER_WIDTH}`, class: "base" }),
    s("rect", { x: left, y: 25, width: Math.max(right - left, 2), height: 12, class: "allowed" }),
    guardZone(range, lower, accept_lower), guardZone(range, accept_upper, upper),
    lower !== null && limitPost(range, lower),
    upper !== null && !isExact && limitPost(range, upper),
    judgement && judgement.value !== null && rulerMark(range, judgement));
}

/** "97 to 103 mm", "at least 10 mm", "exactly 19". */
export function limitWords({ lower, upper }, unit) {
  const params = { lower, upper, unit: unit ?? "" };
  if (lower !== null && lower === upper) return say("limit.exact", params).trim();
  if (lower === null) return say("limit.at_most", params).trim();
  return say(upper === null ? "limit.at_least" : "limit.between", params).trim();
}

/** Value, option or fault of an answered check, in words. */
export function answerWords(check, answer, judgement, size) {
  const unit = check.unit ? ` ${check.unit}` : "";
  const fault = check.faults.find(({ id }) => id === answer?.fault);
  const value = answer?.values?.length > 1 ? answer.values.map(showTyped).join(" · ") + unit
    : judgement.value !== null && judgement.value !== undefined ? formatNumber(Number(judgement.value.toPrecision(4))) + unit : "";
  const option = check.options?.find(({ id }) => id === answer?.option);
  const wanted = check.kind === "calculated" && judgement.value !== null ? limitWords(check.limits[size], check.unit) : "";
  return [value, pick(option?.title), wanted && say("walk.wanted", { limits: wanted }), pick(fault?.title), answer?.note]
    .filter(Boolean).join(" · ");
}

/** Text after a key: "," stands for the decimal mark of the region, "back" takes the last sign away. */
export function typeKey(text, key) {
  if (key === "back") return text.slice(0, -1);
  const [whole, part] = text.split(/[.,]/);
  if (key === ",") return text !== "" && part === undefined ? text + separator() : text;
  if (part === undefined ? whole.length >= 7 : part.length >= 4) return text;
  return text + key;
}

function readingChips(check, values, index, onIndex) {
  if (check.kind !== "readings") return null;
  return h("div", { class: "chips" }, check.labels.map((label, i) =>
    h("button", { type: "button", id: `ui-reading-${i}`, class: "chip", "aria-current": i === index ? "true" : null,
      disabled: i > values.length, onclick: () => onIndex(i) },
    h("span", null, pick(label)), h("b", null, values[i] ? showTyped(values[i]) : "·"))));
}

function verdictWords(typed) {
  if (typed.problem === "empty") return null;
  if (typed.problem) return h("span", { class: "verdict fail" }, shape("fail"), h("b", null, say(`pad.${typed.problem}`)));
  return typed.judgement && verdictLine(typed.judgement.verdict);
}

function key(id, className, label, onclick, more = {}) {
  return h("button", { type: "button", id: `ui-key-${id}`, class: `key ${className}`, onclick, ...more }, label);
}

/**
 * The pad for the open check. text is what is typed so far; onType(text) stores it,
 * onAccept(canonical, judgement) takes it, onIndex(i) goes to another reading.
 */
export function numberPad({ check, values, index, text, context, onType, onAccept, onIndex }) {
  const typed = judgeTyped(check, values, index, text, context);
  const limits = check.limits[context.size];
  const press = (sign) => () => onType(typeKey(text, sign));
  const digit = (sign) => key(sign, "", formatNumber(Number(sign)), press(sign));
  const mark = key("mark", "", separator(), press(","), { "aria-label": say("pad.mark"), disabled: check.kind === "count" });
  const accepts = typed.text !== null && !typed.problem;
  return h("div", { class: "pad" },
    readingChips(check, values, index, onIndex),
    h("div", { class: "typed" },
      h("output", null, text === "" ? "–" : text, h("small", null, check.unit ? ` ${check.unit}` : "")),
      h("span", { class: "says", "aria-live": "polite" },
        verdictWords(typed) ?? (limits && limitWords(limits, check.unit)))),
    ruler(limits, typed.judgement),
    h("div", { class: "keys" },
      "123".split("").map(digit), key("back", "", "⌫", press("back"), { "aria-label": say("pad.erase") }),
      "456".split("").map(digit), mark, "789".split("").map(digit),
      key("ok", "ok", say("pad.ok"), () => accepts && onAccept(typed.text, typed.judgement), { "aria-disabled": String(!accepts) }),
      key("0", "zero", formatNumber(0), press("0"))));
}
