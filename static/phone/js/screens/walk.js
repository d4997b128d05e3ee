// The walk round the stove: one part at a time with its checks.
import { rememberBefore } from "../inspection/answers.js";
import { judgeDraft } from "../inspection/draft.js";
import { isUsedFor } from "../inspection/gauge.js";
import { isCalculated, isTyped } from "../inspection/kinds.js";
import { findGroup } from "../inspection/tool_order.js";
import {
  checksOfPart,
  isOpen,
  judgePart,
  nextOpenCheck,
  walkParts,
} from "../inspection/walk_order.js";
import { drawingMap } from "../ui/drawing.js";
import { h } from "../ui/dom.js";
import { dock, joinLine, list, row } from "../ui/page.js";
import { walkRoute } from "../ui/routes.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";
import { advance, dockOf, secondReadingSheet, undoLine } from "./answer_dock.js";
import { answerWords } from "./answer_words.js";
import { pictureOf } from "./choice_pictures.js";
import { faultSheet } from "./fault_sheet.js";
import { listLate } from "./gauge_state.js";

/** @param {Check} check */
const cautionLine = ({ caution }) =>
  caution && h("p", { class: "caution" }, h("b", null, t("walk.caution")), " ", localize(caution));

/**
 * The same in words, one line until it is asked for. Where a short screen has no room for the
 * picture above, it comes with the words.
 * @param {App} app
 * @param {Check} check
 */
function howTo(app, check) {
  const isShown = app.howOf === check.id;
  const words = h("p", null, localize(check.how));
  if (!isShown) return h("div", { class: "how one-line" }, words);
  return h("div", { class: "how" }, pictureOf(app, check.picture), words);
}

/**
 * @param {"how" | "more" | "caution"} name
 * @param {string} text
 * @param {Attributes} more
 */
function iconButton(name, text, more) {
  const attrs = { id: `ui-${name}`, class: `icon for-${name}`, "aria-label": t(`walk.${name}`) };
  return h("button", { type: "button", ...attrs, ...more }, text);
}

/**
 * A caution stands in full until its check is answered; then, for the rest of this stove, behind a
 * sign.
 * @param {App} app
 * @param {Check} check
 */
const isCautionRead = ({ draft }, { caution }) =>
  Boolean(caution && draft.cautions?.includes(caution.en));

/**
 * The check that the thumb acts on.
 * @param {App} app
 * @param {Check} check
 */
function openRow(app, check) {
  const { id, part, ask, how, caution } = check;
  const isShown = app.howOf === id;
  const toggle = () => app.refresh({ howOf: isShown ? null : id });
  const { draft } = app;
  const sheet = { ...draft, at: { part, check: id, sheet: true } };
  const more = () => app.changeDraft(rememberBefore(sheet, draft));
  const isRead = isCautionRead(app, check);
  const isWarned = !isRead || app.cautionOf === id;
  const warn = () => app.refresh({ cautionOf: isWarned ? null : id });
  const expanded = (/** @type {boolean} */ is) => ({ "aria-expanded": String(is) });
  return h(
    "li",
    { class: "now", id: "ui-now", "data-check": id },
    h(
      "div",
      { class: "now-head" },
      h("p", { class: "ask" }, localize(ask)),
      caution && isRead && iconButton("caution", "!", { ...expanded(isWarned), onclick: warn }),
      how && iconButton("how", "?", { ...expanded(isShown), onclick: toggle }),
      iconButton("more", "⋯", { onclick: more }),
    ),
    (!isShown && lateLine(app, check)) || (how && howTo(app, check)),
    isWarned && cautionLine(check),
  );
}

/**
 * That a template or gauge of the check is late, in place of the one line of how to check, so that
 * the caution stays in sight. It hinders nothing: the stove is at hand now.
 * @param {App} app
 * @param {Check} check
 */
function lateLine({ late = [], draft }, check) {
  const gauge = late.find((one) => isUsedFor(one, check, draft.crew));
  if (!gauge) return null;
  const key = gauge.isOutside ? "walk.gauge_outside" : "walk.gauge_late";
  return h("div", { class: "how one-line late" }, h("p", null, t(key, { name: gauge.name })));
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
 * @param {boolean} isInGroup
 */
function checkRow(app, check, judgements, current, isInGroup) {
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
  if (!isMissing || !caution) return line;
  const isSaid = caution.en === current?.caution?.en || isCautionRead(app, check);
  // What one tap may pass together must be warned of before it.
  if (isInGroup && !isSaid) line.append(cautionLine(check) ?? "");
  else line.firstElementChild?.append(h("span", { class: "sign", "aria-hidden": "true" }, "!"));
  return line;
}

/**
 * The part before, the part that shows, the part after; in a walk by tool also the tool in hand.
 * @param {App} app
 * @param {Judgements} judgements
 * @param {string} part
 * @param {Check | null} check
 */
function partBar(app, judgements, part, check) {
  const parts = walkParts(app.compiled, judgements);
  const place = parts.findIndex(({ id }) => id === part);
  const step = (/** @type {"back" | "next"} */ key, /** @type {string} */ end) => {
    const target = parts[place + (key === "back" ? -1 : 1)];
    const href = target ? walkRoute(target.id) : end;
    const attrs = { class: `icon ${key}`, "aria-label": t(`walk.${key}`), href };
    return h("a", attrs, h("span", { class: "chevron" }));
  };
  const count = t("walk.place", { place: place + 1, n: parts.length });
  const tool = app.isByTool && app.compiled.tools?.find(({ id }) => id === check?.tool);
  const words = tool ? localize(tool.title) : count;
  const where = h("small", null, h("b", null, app.draft.stove), " · ", words);
  const title = h("a", { href: "#/parts" }, localize(parts[place]?.title), where);
  return h(
    "div",
    { class: "part-bar" },
    step("back", "#/parts"),
    h("h1", { tabindex: "-1" }, title),
    step("next", "#/review"),
  );
}

/**
 * How the open check is done, large, and the stove with the part lit.
 * @param {App} app
 * @param {Judgements} judgements
 * @param {string} part
 * @param {Check | null} check
 */
function stoveMap(app, judgements, part, check) {
  const { compiled } = app;
  const parts = walkParts(compiled, judgements);
  const states = Object.fromEntries(
    parts.map(({ id }) => [id, judgePart(compiled, judgements, id)]),
  );
  const title = localize(parts.find(({ id }) => id === part)?.title);
  const map = drawingMap({
    source: app.drawingOf(compiled.drawing),
    states,
    part,
    isNear: check !== null && isTyped(check),
    label: t("walk.drawing", { part: title }),
    onPick: (picked) => app.go(walkRoute(picked)),
  });
  return mapWith(map, check && pictureOf(app, check.picture));
}

/**
 * Drawing and picture. Where the drawing shows already, it stays in the page and an empty place
 * stands for both: see swap() in router.js.
 * @param {HTMLElement} drawing
 * @param {SVGSVGElement | null} picture
 */
function mapWith(drawing, picture) {
  const shown = drawing.parentElement;
  if (!shown?.isConnected) return h("div", { class: "map" }, picture, drawing);
  while (shown.firstElementChild !== drawing) shown.firstElementChild?.remove();
  if (picture) drawing.before(picture);
  return Object.assign(h("div", { class: "map" }), { kept: shown });
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
export async function walkScreen(app, part) {
  if (!app.draft) return app.go("#/today");
  app.late = await listLate(app);
  const judgements = judgeDraft(app.compiled, app.draft);
  const checks = checksOfPart(app.compiled, judgements, part);
  if (checks.length === 0) return app.go("#/parts");
  const check = currentCheck(app, checks, judgements, part);
  const isTyping = check !== null && isTyped(check);
  const group = findGroup(app.compiled, judgements, part, app.isByTool ? check : null);
  const rows = checks.map((one) =>
    one === check
      ? openRow(app, one)
      : checkRow(app, one, judgements, check, group.includes(one)),
  );
  return h(
    "div",
    { class: `walk ${isTyping ? "typing" : ""}` },
    stoveMap(app, judgements, part, check),
    partBar(app, judgements, part, check),
    list(rows, { class: "rows checks" }),
    dock(undoLine(app), dockOf(app, check, judgements, part)),
    openSheet(app, check, judgements),
  );
}
