// What was taken of a picture becomes the answer of the check that asked for it.
import {
  clearedFields,
  findLeast,
  isTaken,
  patchAnswer,
  rememberBefore,
  writeLength,
} from "../inspection/answers.js";
import { isAsked, judgeDraft } from "../inspection/draft.js";
import { savePhoto } from "../store/photos.js";
import { walkRoute } from "../ui/routes.js";

/** @param {HolesTaken} taken */
export function writeProposal({ proposal: { holes, web }, setup: { ruler, step } }) {
  const margins = holes.map(({ margin }) => margin);
  return {
    count: holes.length,
    margin: writeLength(findLeast(margins)),
    web: web && writeLength(web),
    widths: holes.map(({ width }) => writeLength(width)),
    ruler: String(ruler),
    step: String(step),
  };
}

/**
 * What was proposed for a check, if it is there: the twin is in qcapp/inspection/holes.py.
 * @param {Pick<Check, "figure">} check
 * @param {HolesPhoto["proposal"]} proposal
 * @returns {{value: string, uncertainty?: string} | null}
 */
export function findProposed({ figure }, { count, margin, web, widths }) {
  if (!figure) return { value: String(count) };
  if (figure !== "width") return { margin, web }[figure];
  const total = widths.reduce((sum, { value }) => sum + Number(value), 0);
  const sure = Math.max(...widths.map(({ uncertainty }) => Number(uncertainty)));
  return { value: (total / widths.length).toFixed(1), uncertainty: sure.toFixed(1) };
}

/**
 * @param {Answer} before with an earlier photo or none
 * @param {Omit<HolesPhoto, "is_taken">} kept
 * @param {ReturnType<typeof findProposed>} found
 * @returns {Partial<Answer>}
 */
function answerWith(before, kept, found) {
  const { holes, photos = [] } = before;
  const others = photos.filter((name) => name !== holes?.photo && name !== holes?.overlay);
  const { value, ...sure } = found ?? {};
  return {
    ...((found || isTaken(before)) && clearedFields(before)),
    ...(value && { values: [value] }),
    photos: [...others, kept.photo, kept.overlay],
    holes: { ...kept, is_taken: Boolean(found), ...sure },
  };
}

/**
 * Keeps pictures and proposal with the draft and goes back to the check. Other checks of the step
 * take them too, but where a person has answered.
 * @param {App} app
 * @param {string} step whose check asked for a picture
 * @param {HolesTaken} taken
 * @returns {Promise<void>}
 */
export async function acceptHoles(app, step, taken) {
  const { compiled, draft } = app;
  if (!draft || draft.is_practice) return app.go("#/today");
  const judged = judgeDraft(compiled, draft);
  await app.attempt(async () => {
    const photo = await savePhoto(taken.picture);
    const overlay = await savePhoto(taken.overlay);
    const kept = { photo, overlay, proposal: writeProposal(taken) };
    const done = compiled.checks.reduce((next, check) => {
      const { id } = check;
      const before = draft.answers[id] ?? {};
      const isOpen = id === draft.at.check || isTaken(before) || !(before.mark || before.values);
      if (!check.photo || check.step !== step || !isAsked(judged[id]) || !isOpen) return next;
      const found = taken.isTaken ? findProposed(check, kept.proposal) : null;
      return patchAnswer(next, id, answerWith(before, kept, found));
    }, draft);
    app.storeDraft(rememberBefore({ ...done, typed: null }, draft));
  });
  app.go(walkRoute(draft.at.part));
}
