// The sheet over the walk: fault, note and photo of one check, or that it does not apply.
import { patchAnswer, setAnswer } from "../inspection/answers.js";
import { countsAsFail } from "../inspection/judge.js";
import { obviousFault, sideOf } from "../inspection/record.js";
import { h } from "../ui/dom.js";
import { button, disclosure, dock, list, row, sheet, wordsField } from "../ui/page.js";
import { localize, t } from "../ui/words.js";
import { answerWords } from "./answer_words.js";
import { photoPicker } from "./photo_views.js";

/**
 * Faults that can be meant: of a value above its limit none that lies below.
 * @param {Check} check
 * @param {Judgement} judgement
 */
function fittingFaults({ faults }, judgement) {
  const side = sideOf(judgement);
  return side ? faults.filter((fault) => !fault.side || fault.side === side) : faults;
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {Fault[]} faults
 * @param {string | null} chosen
 */
function faultChoice(app, check, faults, chosen) {
  const rows = faults.map(({ id, title }) =>
    row({
      id: `ui-fault-${id}`,
      text: localize(title),
      pressed: id === chosen,
      onclick: () => app.changeDraft(patchAnswer(app.draft, check.id, { fault: id })),
    }),
  );
  return list(rows, { "aria-label": t("fault.which") });
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
 * Takes the sheet away, with what was written on it.
 * @param {App} app
 * @param {Check} check
 * @param {Judgement} judgement
 * @param {Pick<Answer, "note" | "fault">} change
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
  const named = faults.find(({ id }) => id === answer.fault)?.id;
  const chosen = named ?? (failing ? obviousFault(check, judgement) : null);
  const note = wordsField("ui-note", answer.note, (text) =>
    app.storeDraft(patchAnswer(app.draft, check.id, { note: text.trim() || undefined })),
  );
  const close = () => {
    const change = {
      note: note.value.trim() || undefined,
      fault: (failing && chosen) || undefined,
    };
    return closeSheet(app, check, judgement, change, done);
  };
  const needsFault = failing && !chosen && faults.length > 1;
  const state = { disabled: needsFault, id: "ui-done" };
  return sheet(
    t(failing ? "fault.title" : "fault.more_title"),
    app.undo,
    h("p", null, localize(check.ask), " ", failing && failedWords(app, check, judgement)),
    failing && faults.length > 0 && faultChoice(app, check, faults, chosen),
    h("label", null, t("fault.note"), note),
    photoPicker(app, check, answer, failing),
    !failing && notApplicable(app, check, note, done),
    dock(
      needsFault && h("p", null, t("fault.choose")),
      button("fault.done", "go", close, {}, state),
    ),
  );
}
