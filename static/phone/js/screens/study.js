// Looking again without seeing what was answered before.
import { newLook } from "../inspection/draft.js";
import { findChecklist } from "../store/local_db.js";
import { h } from "../ui/dom.js";
import { alertLine, button, page, strong } from "../ui/page.js";
import { t } from "../ui/words.js";
import { readStove } from "./stoves.js";
import { SECOND_LOOK, isAnyOrder, listStudies, serialOf } from "./studies.js";

/**
 * What a look is held against: a study says so; for a second look it is what the first one was.
 * @param {OpenStudy} study
 * @param {Look} look
 */
async function basisOf(study, look) {
  if (study.id !== SECOND_LOOK) return { hash: study.checklist_hash, body: study };
  const first = (await readStove(look.stove)).inspections.at(0);
  return { hash: first?.checklist_hash, body: first?.body };
}

/**
 * @param {App} app
 * @param {OpenStudy} study
 * @param {Look} look
 * @param {Element} errorLine
 */
async function startLook(app, study, look, errorLine) {
  const { hash, body } = await basisOf(study, look);
  const compiled = hash && (await findChecklist(hash));
  if (!hash || !compiled || !body) return errorLine.append(t("study.no_checklist"));
  const draft = newLook({
    compiled,
    hash,
    batch: { size: body.size ?? "", attributes: body.batch_attributes },
    checks: study.checks,
    stove: serialOf(study, look),
    look: { study: study.id, ...look },
    inspector: app.inspector,
    started_at: app.now(),
  });
  return app.start(draft);
}

/**
 * @param {App} app
 * @param {string} id
 */
export async function studyScreen(app, id) {
  const study = (await listStudies(app)).find((one) => one.id === id);
  if (!study) return app.go("#/today");
  const errorLine = alertLine();
  // The order of a study is part of it; of the one in twenty, and of a re-check, any may be at hand.
  const offered = isAnyOrder(study) ? study.left : study.left.slice(0, 1);
  const lookButton = (/** @type {Look} */ look) => {
    const start = () => startLook(app, study, look, errorLine);
    return button("study.begin", "plain wide", start, { stove: serialOf(study, look) });
  };
  return page(
    { title: study.title, back: "#/today" },
    h("p", null, t("study.how")),
    strong(t("study.left", { n: study.left.length })),
    errorLine,
    offered.map(lookButton),
  );
}
