// A stove walked round to learn how: its draft is never stored, and Save makes no record of it.
import { newDraft } from "../inspection/draft.js";
import { t } from "../ui/words.js";
import { checklistChoice } from "./checklist_choice.js";

/**
 * What a batch must be like for every check to be asked, so that a practice shows them all.
 * @param {Pick<Checklist, "checks">} compiled
 */
export function attributesOfAll({ checks }) {
  const conditions = checks.flatMap(({ when }) => Object.entries(when));
  return Object.fromEntries(
    conditions
      .filter(([key]) => key.startsWith("batch."))
      .map(([key, value]) => [key.slice("batch.".length), value]),
  );
}

/** @param {App} app */
export function practiceScreen(app) {
  const checklists = app.checklists;
  const start = (/** @type {CompiledChecklist} */ checklist) => {
    const { compiled } = checklist;
    const batch = { size: compiled.sizes[0], attributes: attributesOfAll(compiled) };
    const fields = { ...checklist, batch, stove: t("practice.stove"), started_at: app.now() };
    return app.start({ ...newDraft(fields), key: "practice", is_practice: true });
  };
  const words = checklists.length > 0 ? "practice.how" : "practice.none";
  return checklistChoice("practice.mark", checklists, start, words);
}
