// What the thumb can do about the open check, and where the walk goes on after it.
import {
  needsSecondReading,
  noteCautions,
  passTicks,
  patchAnswer,
  rememberBefore,
  tickFields,
} from "../inspection/answers.js";
import { judgeDraft } from "../inspection/draft.js";
import { isCalculated, isChoice, isTick } from "../inspection/kinds.js";
import {
  judgePart,
  moveToPart,
  nextOpenCheck,
  nextOpenPart,
} from "../inspection/walk_order.js";
import { findGroup, moveToCheck, nextByTool } from "../inspection/tool_order.js";
import { timedFields } from "../inspection/timer.js";
import { h } from "../ui/dom.js";
import { button, sheet, strong } from "../ui/page.js";
import { typeInto } from "../ui/typing.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";
import { limitWords, ruleWords, uncertaintyWords } from "./answer_words.js";
import { pictureOf, pictureTile, pictureTiles } from "./choice_pictures.js";
import { padDock, pressKey } from "./number_pad.js";
import { timerLine } from "./timer_dock.js";

/**
 * After an answer: the next open check of the part, else the next open part, else the review.
 * @param {App} app
 * @param {Draft} answered
 * @param {Check} check
 */
export function advance(app, answered, check) {
  const { compiled } = app;
  const draft = noteCautions(answered, [check]);
  const judgements = judgeDraft(compiled, draft);
  if (app.isByTool) {
    app.showAnswer(judgements[check.id].verdict, localize(check.ask));
    return app.showDraft(moveToCheck(draft, nextByTool(compiled, judgements, check.id)));
  }
  const next = nextOpenCheck(compiled, judgements, check.part, check.id);
  if (next) {
    app.showAnswer(judgements[check.id].verdict, localize(check.ask));
    return app.changeDraft({ ...draft, typed: null, at: { part: check.part, check: next.id } });
  }
  const part = nextOpenPart(compiled, judgements, check.part);
  const title = compiled.parts.find(({ id }) => id === check.part)?.title;
  app.showAnswer(judgePart(compiled, judgements, check.part), localize(title));
  return app.showDraft(moveToPart(compiled, draft, judgements, part));
}

/**
 * What was answered last, with the way to take it back; gone after some seconds.
 * @param {App} app
 */
export function undoLine({ answered, draft, undo }) {
  if (!answered || !draft.before || draft.typed?.text) return null;
  const { verdict, text } = answered;
  return h(
    "div",
    { id: "ui-answered", class: "answered", role: "status" },
    shape(verdict),
    h("span", null, t("walk.answered", { text, verdict: t(`verdict.${verdict}`) })),
    button("walk.undo", "plain", undo, {}, { id: "ui-undo" }),
  );
}

/**
 * Stores an answer; one that fails or is too close to call stays on the check, for what is wrong or
 * a second reading.
 * @param {App} app
 * @param {Draft} draft
 * @param {Check} check
 */
function storeAnswer(app, draft, check) {
  const { verdict } = judgeDraft(app.compiled, draft)[check.id];
  const at = { part: check.part, check: check.id };
  if (needsSecondReading(draft, check))
    return app.changeDraft({ ...draft, at: { ...at, sheet: "second-reading" } });
  if (verdict !== "fail" || check.faults.length === 0) return advance(app, draft, check);
  return app.changeDraft({ ...draft, typed: null, at: { ...at, sheet: true } });
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {Judgements} judgements
 */
function tickDock(app, check, judgements) {
  const { compiled, draft } = app;
  const mark = (/** @type {"pass" | "fail"} */ verdict) => {
    const onclick = () => {
      const timed = check.lasts_seconds ? timedFields(draft, check, app.now()) : null;
      const answer = { ...tickFields(verdict), ...timed };
      const marked = rememberBefore(patchAnswer(draft, check.id, answer), draft);
      return storeAnswer(app, { ...marked, timer: undefined }, check);
    };
    const attrs = { id: `ui-${verdict}`, class: `big ${verdict}`, onclick };
    return h("button", { type: "button", ...attrs }, shape(verdict), t(`verdict.${verdict}`));
  };
  const ticks = findGroup(compiled, judgements, check.part, app.isByTool ? check : null);
  const n = ticks.length;
  const passAll = () =>
    advance(app, noteCautions(rememberBefore(passTicks(draft, ticks), draft), ticks), ticks[n - 1]);
  const all = { type: "button", id: "ui-all", class: "plain wide", onclick: passAll };
  return [
    check.lasts_seconds && timerLine(app, check),
    n > 1 && h("button", all, shape("pass"), t("walk.all_pass", { n })),
    h("div", { class: "judge" }, mark("pass"), mark("fail")),
  ];
}

/**
 * Options by their pictures where there are any, else by words.
 * @param {App} app
 * @param {Check} check
 */
function choiceDock(app, check) {
  const { draft } = app;
  const tiles = check.options.map(({ id, title, fault, picture }) => {
    const answer = { option: id, mark: undefined, fault: fault ?? undefined };
    const chosen = rememberBefore(patchAnswer(draft, check.id, answer), draft);
    const onclick = () => storeAnswer(app, chosen, check);
    const text = localize(title);
    return { id: `ui-option-${id}`, picture: pictureOf(app, picture), text, onclick };
  });
  if (tiles.some(({ picture }) => picture)) return pictureTiles(tiles.map(pictureTile));
  return tiles.map(({ id, text, onclick }) =>
    h("button", { type: "button", id, class: "plain wide", onclick }, text),
  );
}

/**
 * After a first reading too close to call: why, and whether to read once more.
 * @param {App} app
 * @param {Check} check
 */
export function secondReadingSheet(app, check) {
  const { draft } = app;
  const at = { part: check.part, check: check.id };
  const again = () => app.changeDraft({ ...draft, at });
  const leave = () => advance(app, { ...draft, at }, check);
  const first = Number(draft.answers[check.id].values?.[0]);
  const limits = limitWords(check.limits[draft.size], check);
  const actions = [
    button("second_reading.leave", "plain", leave, {}, { id: "ui-leave" }),
    button("second_reading.go", "go", again, {}, { id: "ui-again" }),
  ];
  return sheet(
    { title: t("second_reading.title"), close: app.undo, actions },
    strong(uncertaintyWords(check, first)),
    h("p", null, t("walk.wanted", { limits })),
    h("p", null, t("second_reading.how")),
    h("p", null, ruleWords(check)),
  );
}

/**
 * @param {App} app
 * @param {Judgements} judgements
 * @param {string} part
 */
function partDoneDock(app, judgements, part) {
  const { compiled, draft, isByTool } = app;
  const check = isByTool ? nextByTool(compiled, judgements, draft.at.check) : null;
  const next = isByTool
    ? (compiled.parts.find(({ id }) => id === check?.part) ?? null)
    : nextOpenPart(compiled, judgements, part);
  const go = () =>
    app.showDraft(
      isByTool ? moveToCheck(draft, check) : moveToPart(compiled, draft, judgements, next),
    );
  return next
    ? button("walk.next_part", "go", go, { part: localize(next.title) })
    : button("walk.to_review", "go", go);
}

/**
 * @param {App} app
 * @param {Check | null} check
 * @param {Judgements} judgements
 * @param {string} part
 */
export function dockOf(app, check, judgements, part) {
  if (!check || isCalculated(check)) return partDoneDock(app, judgements, part);
  if (isTick(check)) return tickDock(app, check, judgements);
  if (isChoice(check)) return choiceDock(app, check);
  const storing = (/** @type {Check} */ one) => (/** @type {Draft} */ draft) =>
    storeAnswer(app, draft, one);
  // On other screens of the inspection a key means nothing.
  const isShown = () => document.querySelector(".walk.typing") !== null;
  typeInto((key) => isShown() && pressKey(app, storing, key));
  return padDock(app, check, storing(check));
}
