// Our own number pad: every character typed is stored, OK takes the reading.
import {
  isTaken,
  markGauged,
  openReading,
  readingsBeside,
  rememberBefore,
  setReading,
  typedValues,
} from "../inspection/answers.js";
import { contextOf } from "../inspection/draft.js";
import { judgeCheck, limitsOfMean, limitsWith, photoUncertainty } from "../inspection/judge.js";
import { countReadings, isTyped, isWhole, takesSecond } from "../inspection/kinds.js";
import { mayBecome, parseNumber } from "../inspection/number.js";
import { obviousFault } from "../inspection/record.js";
import { h } from "../ui/dom.js";
import { joinLine } from "../ui/page.js";
import { ruler } from "../ui/ruler.js";
import { verdictLine } from "../ui/verdict.js";
import { decimalMark, formatNumber, formatTyped, localize, t, wordOf } from "../ui/words.js";
import { excessWords, faultWords, limitWords, photoWords, uncertaintyWords } from "./answer_words.js";

// These are judged only by a comparison of several readings, so a single one says nothing yet.
const NEEDS_ALL = ["mean", "range"];
const PROBLEMS = ["not-a-number", "not-whole", "impossible"];
// Nothing is said of these: more digits may follow.
const UNFINISHED = ["empty", "unfinished"];

/**
 * What a text being typed would mean: {text, problem, judgement}.
 * problem: empty, unfinished (no reading yet, but more digits may make it one), not-a-number,
 * not-whole, impossible or null; judgement of the readings so far, or null.
 * @param {Check} check
 * @param {string[]} values
 * @param {number} index
 * @param {string} text
 * @param {JudgeContext} context
 * @returns {TypedReading}
 */
export function judgeTyped(check, values, index, text, context) {
  if (text === "") return { text: null, problem: "empty", judgement: null };
  const canonical = parseNumber(text);
  /** @type {(string | null)[]} */
  const all = readingsBeside(check, values, index);
  all[index] = canonical;
  const answers = { [check.id]: { values: all } };
  const judgement = judgeCheck({ ...check, n: all.length }, answers, context);
  const found = PROBLEMS.includes(judgement.reason) ? judgement.reason : null;
  const isUnfinished = found && found !== "not-whole" && mayBecome(text, check.possible);
  const problem = isUnfinished ? "unfinished" : found;
  const { by = "smallest" } = check;
  const isEarly = NEEDS_ALL.includes(by) && all.length < countReadings(check);
  return { text: canonical, problem, judgement: problem || isEarly ? null : judgement };
}

/**
 * Text after a key: "," stands for the decimal mark of the region, "back" deletes the last
 * character.
 * @param {string} text
 * @param {string} key
 */
export function applyKey(text, key) {
  if (key === "back") return text.slice(0, -1);
  const [whole, part] = text.split(/[.,]/);
  if (key === ",") return text !== "" && part === undefined ? text + decimalMark() : text;
  if (part === undefined ? whole.length >= 7 : part.length >= 4) return text;
  return text + key;
}

/**
 * One chip for each reading of a check that has several.
 * @param {Check} check
 * @param {string[]} values
 * @param {number} index
 * @param {(index: number) => void} choose
 */
function readingChips(check, values, index, choose) {
  const hasSecond = takesSecond(check) && (index > 0 || values.length > 1);
  const labels = hasSecond ? [t("pad.first"), t("pad.second")] : (check.labels ?? []).map(localize);
  if (labels.length === 0) return null;
  const chips = labels.map((label, at) => {
    const state = { "aria-current": at === index ? "true" : null, disabled: at > values.length };
    const attrs = { id: `ui-reading-${at}`, class: "chip", onclick: () => choose(at), ...state };
    const value = values[at] ? formatTyped(values[at]) : "·";
    return h("button", { type: "button", ...attrs }, h("span", null, label), h("b", null, value));
  });
  return h("div", { class: "chips" }, chips);
}

/**
 * "Too wide, 2 mm too much"; a verdict without a side is its word.
 * @param {Check} check
 * @param {Judgement} judgement
 * @param {string} size
 */
function saidWords(check, judgement, size) {
  const excess = excessWords(check, judgement, size);
  if (!excess) return t(`verdict.${judgement.verdict}`);
  return joinLine([faultWords(check, obviousFault(check, judgement)), excess]);
}

/**
 * What is typed, and what it would mean.
 * @param {Check} check
 * @param {string} text
 * @param {ReturnType<typeof judgeTyped>} typed
 * @param {Target} target
 * @param {string} size
 */
export function typedLine(check, text, { problem, judgement }, { limits, isMean, beside }, size) {
  const { unit } = check;
  const isProblem = problem && !UNFINISHED.includes(problem);
  const verdict = isProblem
    ? verdictLine("fail", t(`pad.${problem}`))
    : judgement && verdictLine(judgement.verdict, saidWords(check, judgement, size));
  const sure = isMean && judgement ? uncertaintyWords(check, judgement.value, 2) : beside;
  return h(
    "div",
    { class: "typed" },
    h("output", null, text || "–", h("small", null, unit && ` ${wordOf("unit", unit)}`)),
    h(
      "span",
      { class: "says", "aria-live": "polite" },
      verdict ?? (limits && limitWords(limits, check)),
      sure && h("small", null, sure),
    ),
  );
}

/**
 * @param {string} id
 * @param {string} label
 * @param {() => unknown} onclick
 * @param {Attributes} [more]
 */
function key(id, label, onclick, more = {}) {
  const attrs = { id: `ui-key-${id}`, class: `key ${id === "ok" ? "ok" : ""}`, onclick };
  return h("button", { type: "button", ...attrs, ...more }, label);
}

/** @param {PadKeys} pad */
export function keys({ press, accept, accepts, isWhole, photo = null }) {
  const digits = (/** @type {string} */ row) =>
    row.split("").map((digit) => key(digit, formatNumber(Number(digit)), press(digit)));
  const mark = { "aria-label": t("pad.mark"), disabled: isWhole };
  return h(
    "div",
    { class: "keys" },
    digits("123"),
    key("back", "⌫", press("back"), { "aria-label": t("pad.delete") }),
    digits("456"),
    key("mark", decimalMark(), press(","), mark),
    digits("789"),
    key("ok", t("pad.ok"), accept, { disabled: !accepts }),
    digits("0"),
    photo && key("photo", t("pad.photo"), photo),
  );
}

/**
 * Where the pad stands: which reading is typed, or taken, and what it would mean.
 * @param {Draft} draft
 * @param {Check} check
 */
function readPad(draft, check) {
  const { index, text } = draft.typed ?? { index: openReading(draft, check), text: "" };
  const answer = draft.answers[check.id];
  const values = typedValues(answer);
  const taken = !text && isTaken(answer) ? (answer.values?.[0] ?? "") : "";
  const typed = taken
    ? { text: null, problem: null, judgement: judgeCheck(check, draft.answers, contextOf(draft)) }
    : judgeTyped(check, values, index, text, contextOf(draft));
  const isMean = takesSecond(check) && index > 0;
  const own = check.limits[draft.size];
  const sure = taken && photoUncertainty(check, answer);
  const limits = sure ? limitsWith(check, own, sure) : isMean ? limitsOfMean(own) : own;
  const beside = taken && photoWords(check, answer);
  return { index, text, taken, values, typed, target: { isMean, limits, beside } };
}

/**
 * Takes the reading that is typed, unless it is none; storeAnswer(draft) follows the last one.
 * @param {App} app
 * @param {Check} check
 * @param {(draft: Draft) => void} storeAnswer
 */
function acceptReading(app, check, storeAnswer) {
  const { draft } = app;
  const { index, taken, typed } = readPad(draft, check);
  if (taken) return storeAnswer(rememberBefore({ ...draft, typed: null }, draft));
  if (typed.problem || typed.text === null) return;
  const set = setReading(draft, check, index, typed.text);
  const next = rememberBefore({ ...set, typed: null }, draft);
  const have = next.answers[check.id].values?.length ?? 0;
  if (have < countReadings(check)) app.changeDraft(next);
  else storeAnswer(next);
}

/**
 * A key of a keyboard, which may type faster than a screen is painted: what counts is the draft as
 * it is, not as the screen shows it. True when it was taken.
 * @param {App} app
 * @param {(check: Check) => (draft: Draft) => void} storeAnswer
 * @param {string} key
 */
export function pressKey(app, storeAnswer, key) {
  const { draft, compiled } = app;
  const check = compiled?.checks.find(({ id }) => id === draft?.at.check);
  if (!check || !isTyped(check) || draft.at.sheet || draft.at.screen) return false;
  const { index, text } = readPad(draft, check);
  if (key === "ok") acceptReading(app, check, storeAnswer(check));
  else app.changeDraft({ ...draft, typed: { index, text: applyKey(text, key) } });
  return true;
}

/**
 * The pad for the open check; storeAnswer(draft) follows its last reading.
 * @param {App} app
 * @param {Check} check
 * @param {(draft: Draft) => void} storeAnswer
 */
export function padDock(app, check, storeAnswer) {
  const { draft } = app;
  const { index, text, taken, values, typed, target } = readPad(draft, check);
  const type = (/** @type {{index?: number, text?: string}} */ change) =>
    app.changeDraft({ ...draft, typed: { index, text, ...change } });
  const accept = () => acceptReading(app, check, storeAnswer);
  const press = (/** @type {string} */ name) => () => type({ text: applyKey(text, name) });
  const gauged = () => storeAnswer(rememberBefore(markGauged(draft, check.id), draft));
  const isUntouched = text === "" && values.length === 0;
  const hasPhoto = check.photo && !draft.is_practice && !draft.look;
  const photo = hasPhoto ? () => app.go(`#/holes/${check.step}`) : null;
  const gauge = t("pad.gauge", { limits: limitWords(target.limits, check) });
  return h(
    "div",
    { class: "pad" },
    check.gauge &&
      isUntouched &&
      h("button", { type: "button", id: "ui-gauge", class: "plain wide", onclick: gauged }, gauge),
    !taken && readingChips(check, values, index, (at) => type({ index: at, text: "" })),
    typedLine(check, text || formatTyped(taken), typed, target, draft.size),
    // Before anything is typed its place is that of the last answer.
    (!app.answered || text || taken) && ruler(target.limits, typed.judgement),
    keys({ press, accept, accepts: !typed.problem, isWhole: isWhole(check), photo }),
  );
}
