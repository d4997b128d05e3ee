// One fault as a card, the same wherever it shows: where, what, how far off, photo, maker, what to
// do.
import { countsAsFail, judgeAnswers } from "../inspection/judge.js";
import { listFaults, obviousFault } from "../inspection/record.js";
import { h } from "../ui/dom.js";
import { drawingPicture } from "../ui/drawing.js";
import { joinLine, list, row } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";
import { answerWords, excessWords, faultWords, limitWords, valueWords } from "./answer_words.js";
import { faultPicture } from "./choice_pictures.js";
import { photoFigure } from "./photo_views.js";

/**
 * @param {Check} check
 * @param {Answer} answer
 * @param {Judgement} judgement
 * @param {string} size
 */
function figureLines(check, answer, judgement, size) {
  const limits = check.limits?.[size];
  const value = limits && valueWords(check, answer.values ?? [], judgement);
  const excess = excessWords(check, judgement, size);
  if (!value) return null;
  return [
    h("span", { class: "figure" }, value),
    h("small", null, t("walk.wanted", { limits: limitWords(limits, check) })),
    excess && h("b", { class: "excess" }, excess),
  ];
}

/**
 * What makes it good again.
 * @param {Check} check
 * @param {string} size
 */
function todoWords(check, size) {
  const limits = check.limits?.[size];
  if (limits) return t("fault.todo_limits", { limits: limitWords(limits, check) });
  return t("fault.todo", { ask: localize(check.ask) });
}

/**
 * Photos come when they are read; until then and without any their place stays empty.
 * @param {string[] | undefined} names
 */
function photoLine(names) {
  if (!names) return null;
  const line = h("span", { class: "card-photos" });
  Promise.all(names.map(photoFigure)).then((figures) => line.replaceChildren(...figures));
  return line;
}

/**
 * What a card holds.
 * @param {App} app
 * @param {Checklist} compiled
 * @param {Inspected} inspected
 * @param {Check} check
 * @param {Judgement} judgement
 */
export function faultCard(app, compiled, inspected, check, judgement) {
  const { answers, size, crew } = inspected;
  const answer = answers[check.id] ?? {};
  const part = compiled.parts.find(({ id }) => id === check.part);
  const step = compiled.steps.find(({ id }) => id === check.step);
  const maker = crew[check.step] ? app.personName(crew[check.step]) : t("next.unknown");
  const source = app.drawingOf(compiled.drawing);
  const named = listFaults(answer);
  const faults = named.length > 0 ? named : [obviousFault(check, judgement)];
  const words = joinLine(faults.map((fault) => faultWords(check, fault)));
  return h(
    "span",
    { class: "fault-card" },
    h(
      "span",
      { class: "card-where" },
      source && drawingPicture({ source, part: check.part, place: answer.place }),
      h("small", null, localize(part?.title)),
      faults.map((fault) => faultPicture(app, check, fault)),
    ),
    h(
      "span",
      { class: "card-what" },
      h("b", null, shape(judgement.verdict), words || t("fault.unnamed")),
      h("small", null, joinLine([localize(check.ask), t(`severity.${check.severity}`)])),
      figureLines(check, answer, judgement, size),
      answer.note && h("span", null, answer.note),
    ),
    photoLine(answer.photos),
    h("small", null, t("fault.maker", { step: localize(step?.title), maker })),
    h("span", { class: "card-todo" }, todoWords(check, size)),
  );
}

/**
 * Everything an inspection found: a card for what counts as a fail, a line for what is doubtful.
 * @param {App} app
 * @param {Checklist} compiled
 * @param {Inspected} inspected
 * @param {(check: Check) => Children} [more] what stands below a card
 */
export function faultCards(app, compiled, inspected, more = () => null) {
  const context = { size: inspected.size, batch: inspected.batch_attributes };
  const judgements = judgeAnswers(compiled, inspected.answers, context);
  const isFail = (/** @type {Check} */ check) =>
    countsAsFail(check, judgements[check.id].verdict);
  const failed = compiled.checks.filter(isFail).map((check) => {
    const card = faultCard(app, compiled, inspected, check, judgements[check.id]);
    return h("li", { class: "card" }, card, more(check));
  });
  const isDoubtful = (/** @type {Check} */ check) =>
    judgements[check.id].verdict === "doubtful" && !isFail(check);
  const doubtful = compiled.checks.filter(isDoubtful).map((check) => {
    const answer = inspected.answers[check.id];
    const under = answerWords(check, answer, judgements[check.id], inspected.size);
    return row({ mark: shape("doubtful"), text: localize(check.ask), under });
  });
  return list([...failed, ...doubtful], { class: "rows cards" });
}
