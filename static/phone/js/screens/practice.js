// A stove walked round to learn how: its draft is never stored, and Save makes no record of it.
import { newDraft } from "../inspection/draft.js";
import { t } from "../ui/words.js";
import { checklistChoice } from "./checklist_choice.js";

/** @param {App} app */
export function practiceScreen(app) {
  const checklists = app.reference?.checklists ?? [];
  const start = (/** @type {CompiledChecklist} */ checklist) => {
    const batch = { size: checklist.compiled.sizes[0] };
    const fields = { ...checklist, batch, stove: t("practice.stove"), started_at: app.now() };
    return app.start({ ...newDraft(fields), key: "practice", is_practice: true });
  };
  const words = checklists.length > 0 ? "practice.how" : "practice.none";
  return checklistChoice("practice.mark", checklists, start, words);
}
