// A stove walked round to learn how: its draft is never stored, and Save makes no record of it.
import { newDraft } from "../inspection/draft.js";
import { fetchPractisedDraft } from "../sync/practised_draft.js";
import { h } from "../ui/dom.js";
import { list, page, row } from "../ui/page.js";
import { localize, t, wordOf } from "../ui/words.js";
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

/**
 * token: of a link to a draft that is not published, which this page fetches and forgets.
 * @param {App} app
 * @param {string} [token]
 */
export async function practiceScreen(app, token) {
  app.practised = null;
  if (token) return draftScreen(app, token);
  const checklists = app.checklists;
  const words = checklists.length > 0 ? "practice.how" : "practice.none";
  const start = (/** @type {CompiledChecklist} */ one) => begin(app, one, one.compiled.sizes[0]);
  return checklistChoice("practice.mark", checklists, start, words);
}

/**
 * @param {App} app
 * @param {CompiledChecklist} checklist
 * @param {string} size
 */
function begin(app, checklist, size) {
  const batch = { size, attributes: attributesOfAll(checklist.compiled) };
  const fields = { ...checklist, batch, stove: t("practice.stove"), started_at: app.now() };
  return app.start({ ...newDraft(fields), key: "practice", is_practice: true });
}

/**
 * The sizes of the draft, each a walk of its own.
 * @param {App} app
 * @param {string} token
 */
async function draftScreen(app, token) {
  const head = { title: t("practice.mark"), back: "#/today" };
  let found;
  try {
    found = await fetchPractisedDraft(token);
  } catch (error) {
    const key = /** @type {{text_key?: string}} */ (error).text_key;
    if (!key) throw error;
    return page(head, h("p", { role: "alert" }, t(key)));
  }
  app.practised = found;
  const { compiled } = found;
  const rows = compiled.sizes.map((size) =>
    row({ text: wordOf("size", size), onclick: () => begin(app, found, size) }),
  );
  return page(
    head,
    h("p", null, localize(compiled.title)),
    h("p", null, t("practice.draft")),
    list(rows, { class: "rows tall" }),
  );
}
