// The walk round the stove: one part at a time with its checks.
import { rememberBefore } from "../inspection/answers.js";
import { judgeDraft } from "../inspection/draft.js";
import { isCalculated, isTyped } from "../inspection/kinds.js";
import {
  checksOfPart,
  isOpen,
  judgePart,
  nextOpenCheck,
  walkParts,
} from "../inspection/walk_order.js";
import { drawingMap, readDrawing } from "../ui/drawing.js";
import { h } from "../ui/dom.js";
import { dock, joinLine, list, row } from "../ui/page.js";
import { walkRoute } from "../ui/routes.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";
import { advance, dockOf, secondReadingSheet, undoLine } from "./answer_dock.js";
import { answerWords } from "./answer_words.js";
import { faultSheet } from "./fault_sheet.js";

/** @param {Check} check */
const cautionLine = ({ caution }) =>
  caution && h("p", { class: "caution" }, h("b", null, t("walk.caution")), " ", localize(caution));

/**
 * @param {App} app
 * @param {Check} check
 */
function howTo(app, check) {
  const picture = app.drawingOf(`pictures/${check.picture}.svg`);
  const drawn = picture && readDrawing(picture, "picture");
  return h("div", { class: "how" }, drawn, h("p", null, localize(check.how)));
}

/**
 * @param {"how" | "more"} name
 * @param {string} text
 * @param {Attributes} more
 */
function iconButton(name, text, more) {
  const attrs = { id: `ui-${name}`, class: "icon", "aria-label": t(`walk.${name}`) };
  return h("button", { type: "button", ...attrs, ...more }, text);
}

/**
 * The check that the thumb acts on.
 * @param {App} app
 * @param {Check} check
 */
function openRow(app, check) {
  const { id, part, ask, how } = check;
  const isShown = app.howOf === id;
  const toggle = () => app.refresh({ howOf: isShown ? null : id });
  const { draft } = app;
  const sheet = { ...draft, at: { part, check: id, sheet: true } };
  const more = () => app.changeDraft(rememberBefore(sheet, draft));
  return h(
    "li",
    { class: "now", id: "ui-now", "data-check": id },
    h(
      "div",
      { class: "now-head" },
      h("p", { class: "ask" }, localize(ask)),
      how && iconButton("how", "?", { "aria-expanded": String(isShown), onclick: toggle }),
      iconButton("more", "⋯", { onclick: more }),
    ),
    cautionLine(check),
    isShown && howTo(app, check),
  );
}

/**
 * What is known of a check that is not the open one.
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 */
function stateWords({ draft }, check, judgement) {
  if (judgement.verdict === "missing")
    return isCalculated(check) ? t("walk.calculated") : "";
  return joinLine([
    t(`verdict.${judgement.verdict}`),
    answerWords(check, draft.answers[check.id], judgement, draft.size),
    draft.carried.includes(check.id) && t("walk.carried"),
  ]);
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {Judgements} judgements
 * @param {Check | null} current
 */
function checkRow(app, check, judgements, current) {
  const { id, part, caution } = check;
  const judgement = judgements[id];
  const isMissing = judgement.verdict === "missing";
  const { draft } = app;
  const sheet = isCalculated(check) && !isMissing;
  const opened = { ...draft, typed: null, at: { part, check: id, sheet } };
  const open = () => app.changeDraft(sheet ? rememberBefore(opened, draft) : opened);
  const line = row({
    mark: shape(judgement.verdict),
    text: localize(check.ask),
    under: stateWords(app, check, judgement),
    onclick: isMissing && !isOpen(check, judgements) ? null : open,
  });
  const isSaid = !caution || localize(caution) === localize(current?.caution);
  if (isMissing && !isSaid) line.append(cautionLine(check) ?? "");
  return line;
}

/**
 * The part before, the part that shows, the part after.
 * @param {App} app
 * @param {Judgements} judgements
 * @param {string} part
 */
function partBar(app, judgements, part) {
  const parts = walkParts(app.compiled, judgements);
  const place = parts.findIndex(({ id }) => id === part);
  const step = (/** @type {"back" | "next"} */ key, /** @type {string} */ end) => {
    const target = parts[place + (key === "back" ? -1 : 1)];
    const href = target ? walkRoute(target.id) : end;
    const attrs = { class: `icon ${key}`, "aria-label": t(`walk.${key}`), href };
    return h("a", attrs, h("span", { class: "chevron" }));
  };
  const count = h("small", null, t("walk.place", { place: place + 1, n: parts.length }));
  const title = h("a", { href: "#/parts" }, localize(parts[place]?.title), count);
  return h(
    "div",
    { class: "part-bar" },
    step("back", "#/parts"),
    h("h1", { tabindex: "-1" }, title),
    step("next", "#/review"),
  );
}

/**
 * @param {App} app
 * @param {Judgements} judgements
 * @param {string} part
 * @param {boolean} isNear
 */
function stoveMap(app, judgements, part, isNear) {
  const { compiled, draft } = app;
  const parts = walkParts(compiled, judgements);
  const states = Object.fromEntries(
    parts.map(({ id }) => [id, judgePart(compiled, judgements, id)]),
  );
  const title = localize(parts.find(({ id }) => id === part)?.title);
  const map = drawingMap({
    source: app.drawingOf(compiled.drawing),
    states,
    part,
    isNear,
    label: t("walk.drawing", { part: title }),
    onPick: (picked) => app.go(walkRoute(picked)),
  });
  const over = [h("b", null, draft.stove), h("small", null, t("walk.parts"))];
  return h("div", { class: "map" }, map, h("a", { class: "over", href: "#/parts" }, over));
}

/**
 * The check the thumb acts on: the one the draft stands at, else the first open one of the part.
 * @param {App} app
 * @param {Check[]} checks
 * @param {Judgements} judgements
 * @param {string} part
 */
function currentCheck(app, checks, judgements, part) {
  if (app.draft.at.part !== part) {
    const check = nextOpenCheck(app.compiled, judgements, part);
    app.storeDraft({ ...app.draft, typed: null, at: { part, check: check?.id ?? null } });
  }
  return checks.find(({ id }) => id === app.draft.at.check) ?? null;
}

/**
 * @param {App} app
 * @param {Check | null} check
 * @param {Judgements} judgements
 */
function openSheet(app, check, judgements) {
  const { sheet } = app.draft.at;
  if (!check || !sheet) return null;
  if (sheet === "second-reading") return secondReadingSheet(app, check);
  return faultSheet(app, check, judgements[check.id], (draft) => advance(app, draft, check));
}

/**
 * @param {App} app
 * @param {string} part
 */
export function walkScreen(app, part) {
  if (!app.draft) return app.go("#/today");
  const judgements = judgeDraft(app.compiled, app.draft);
  const checks = checksOfPart(app.compiled, judgements, part);
  if (checks.length === 0) return app.go("#/parts");
  const check = currentCheck(app, checks, judgements, part);
  const isTyping = check !== null && isTyped(check);
  const rows = checks.map((one) =>
    one === check ? openRow(app, one) : checkRow(app, one, judgements, check),
  );
  return h(
    "div",
    { class: `walk ${isTyping ? "typing" : ""}` },
    stoveMap(app, judgements, part, isTyping),
    partBar(app, judgements, part),
    list(rows, { class: "rows checks" }),
    dock(undoLine(app), dockOf(app, check, judgements, part)),
    openSheet(app, check, judgements),
  );
}
