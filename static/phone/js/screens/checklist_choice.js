// Which checklist: of the stages that a batch has, or to practise with.
import { h } from "../ui/dom.js";
import { list, page, row } from "../ui/page.js";
import { localize, t } from "../ui/words.js";

/**
 * @param {string} title key of the title
 * @param {CompiledChecklist[]} checklists
 * @param {(checklist: CompiledChecklist) => unknown} choose
 * @param {string} [words] key of what stands above
 */
export function checklistChoice(title, checklists, choose, words) {
  const rows = checklists.map((checklist) =>
    row({ text: localize(checklist.compiled.title), onclick: () => choose(checklist) }),
  );
  return page(
    { title: t(title), back: "#/today" },
    words && h("p", null, t(words)),
    list(rows, { class: "rows tall" }),
  );
}
