// The sheet over the walk: fault, note and photo of one check, or that it does not apply.
import { markUnmeasurable, patchAnswer, setAnswer } from "../inspection/answers.js";
import { countsAsFail } from "../inspection/judge.js";
import { isTyped } from "../inspection/kinds.js";
import { CANNOT_MEASURE, listFaults, obviousFault, sideOf } from "../inspection/record.js";
import { h } from "../ui/dom.js";
import { alertLine, button, disclosure, list, row, sheet, wordsField } from "../ui/page.js";
import { localize, t } from "../ui/words.js";
import { answerWords, faultWords } from "./answer_words.js";
import { faultPicture, pictureTile, pictureTiles } from "./choice_pictures.js";
import { placePicker } from "./fault_place.js";
import { lessonOffer } from "./lesson.js";
import { photoPicker } from "./photo_views.js";

/**
 * Faults that can be meant: of a value above its limit none that lies below, of what cannot be
 * measured none of a side.
 * @param {Check} check
 * @param {Judgement} judgement
 */
function fittingFaults({ faults }, judgement) {
  const side = sideOf(judgement);
  const ids = faults.filter((fault) => !fault.side || fault.side === side).map(({ id }) => id);
  if (judgement.reason === "cannot-measure") return [CANNOT_MEASURE, ...ids];
  return side ? ids : faults.map(({ id }) => id);
}

/**
 * Faults as they are stored: the check counts under the first one.
 * @param {string[]} chosen
 * @returns {Pick<Answer, "fault" | "more_faults">}
 */
const faultFields = ([fault, ...more]) => ({
  fault,
  more_faults: more.length > 0 ? more : undefined,
});

/**
 * One check may have several faults. By their pictures where there are any, else by words.
 * @param {App} app
 * @param {Check} check
 * @param {string[]} faults
 * @param {string[]} chosen
 */
function faultChoice(app, check, faults, chosen) {
  const toggle = (/** @type {string} */ id) => {
    const next = chosen.includes(id) ? chosen.filter((one) => one !== id) : [...chosen, id];
    return app.changeDraft(patchAnswer(app.draft, check.id, faultFields(next)));
  };
  const choices = faults.map((id) => ({
    id: `ui-fault-${id}`,
    picture: faultPicture(app, check, id),
    text: faultWords(check, id),
    pressed: chosen.includes(id),
    onclick: () => toggle(id),
  }));
  const label = { "aria-label": t("fault.which") };
  if (choices.some(({ picture }) => picture)) return pictureTiles(choices.map(pictureTile), label);
  return list(
    choices.map(({ picture: _, ...choice }) => row({ ...choice, isOneOfMany: true })),
    label,
  );
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {HTMLTextAreaElement} note
 * @param {(draft: Draft) => void} done
 */
function notApplicable(app, { id, part }, note, done) {
  const answer = () => {
    const text = note.value.trim();
    if (!text) return note.focus();
    const draft = setAnswer(app.draft, id, { mark: "not_applicable", note: text });
    return done({ ...draft, at: { part, check: id } });
  };
  return disclosure(
    "fault.not_applicable",
    h("p", null, t("fault.not_applicable_why")),
    button("fault.not_applicable_do", "plain", answer, {}, { id: "ui-not-applicable" }),
  );
}

/**
 * What cannot be measured is a fault, with a photo of why.
 * @param {App} app
 * @param {Check} check
 */
function cannotMeasure(app, check) {
  const mark = () => app.changeDraft(markUnmeasurable(app.draft, check.id));
  return button("fault.cannot_measure", "plain wide", mark, {}, { id: "ui-cannot-measure" });
}

/**
 * What is still wanted of a check that cannot be measured: a photo, or in words why there is none.
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 */
function findProofGap({ draft }, { id }, { reason }) {
  if (reason !== "cannot-measure" || draft.is_practice) return null;
  const { photos, note } = draft.answers[id] ?? {};
  return photos || note ? null : "fault.needs_proof";
}

/**
 * Takes the sheet away, with what was written on it.
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 * @param {Pick<Answer, "note" | "fault" | "more_faults">} change
 * @param {(draft: Draft) => void} done
 */
function closeSheet(app, check, judgement, change, done) {
  const { sheet: _, ...at } = app.draft.at;
  const closed = { ...app.draft, at };
  if (judgement.verdict !== "missing") return done(patchAnswer(closed, check.id, change));
  const isEmpty = !change.note && !app.draft.answers[check.id]?.photos;
  return app.changeDraft(isEmpty ? closed : patchAnswer(closed, check.id, change));
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 */
function failedWords({ draft }, check, judgement) {
  const { values } = draft.answers[check.id] ?? {};
  return h("b", null, answerWords({ ...check, faults: [] }, { values }, judgement, draft.size));
}

/**
 * Those named that can be meant, else the one that leaves no doubt.
 * @param {Answer} answer
 * @param {string[]} faults
 * @param {string | null} obvious
 */
function chosenFaults(answer, faults, obvious) {
  const named = listFaults(answer).filter((fault) => faults.includes(fault));
  return named.length > 0 || !obvious ? named : [obvious];
}

/**
 * done(draft) goes on with the walk.
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 * @param {(draft: Draft) => void} done
 */
export function faultSheet(app, check, judgement, done) {
  const answer = app.draft.answers[check.id] ?? {};
  const failing = countsAsFail(check, judgement.verdict);
  const faults = fittingFaults(check, judgement);
  const chosen = chosenFaults(answer, faults, failing ? obviousFault(check, judgement) : null);
  const note = wordsField("ui-note", answer.note, (text) => {
    app.storeDraft(patchAnswer(app.draft, check.id, { note: text.trim() || undefined }));
    showDone();
  });
  const close = () => {
    const change = {
      note: note.value.trim() || undefined,
      ...faultFields(failing ? chosen : []),
    };
    return closeSheet(app, check, judgement, change, done);
  };
  const needsFault = failing && chosen.length === 0 && faults.length > 1;
  const doneButton = button("fault.done", "go", close, {}, { id: "ui-done" });
  const needed = h("p", null);
  const showDone = () => {
    const gap = needsFault ? "fault.choose" : findProofGap(app, check, judgement);
    doneButton.disabled = gap !== null;
    needed.textContent = gap ? t(gap) : "";
  };
  showDone();
  const title = t(failing ? "fault.title" : "fault.more_title");
  return sheet(
    { title, close: app.undo, actions: [needed, doneButton] },
    failing && app.draft.first_piece && alertLine(t("first.stop_now")),
    h("p", null, localize(check.ask), " ", failing && failedWords(app, check, judgement)),
    failing && faults.length > 0 && faultChoice(app, check, faults, chosen),
    failing && lessonOffer(app, check),
    failing && placePicker(app, check),
    !failing && isTyped(check) && cannotMeasure(app, check),
    photoPicker(app, check, answer, failing),
    h("label", null, t("fault.note"), note),
    !failing && check.may_not_apply && notApplicable(app, check, note, done),
  );
}
