// Every part in walk order: the way round without the drawing.
import { judgeDraft } from "../inspection/draft.js";
import { judgePart, openChecks, walkParts } from "../inspection/walk_order.js";
import { h } from "../ui/dom.js";
import { button, disclosure, joinLine, list, page, row } from "../ui/page.js";
import { walkRoute } from "../ui/routes.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";

/**
 * @param {App} app
 * @param {string} part
 */
const isCarried = ({ compiled, draft }, part) =>
  compiled.checks.some((check) => check.part === part && draft.carried.includes(check.id));

/**
 * @param {App} app
 * @param {Judgements} judgements
 * @param {Part} part
 */
function partRow(app, judgements, { id, title }) {
  const n = openChecks(app.compiled, judgements, id).length;
  const verdict = judgePart(app.compiled, judgements, id);
  const state = joinLine([t(`verdict.${verdict}`), isCarried(app, id) && t("walk.carried")]);
  return row({
    mark: shape(verdict),
    text: localize(title),
    onclick: () => app.go(walkRoute(id)),
    under: n > 0 ? t("walk.open", { n }) : state,
  });
}

/** @param {App} app */
export function partsScreen(app) {
  const { compiled, draft } = app;
  if (!draft) return app.go("#/today");
  const judgements = judgeDraft(compiled, draft);
  const checkAll = () => app.changeDraft({ ...draft, is_short: false });
  const actions = [
    !draft.is_practice &&
      button("walk.pause", "plain", () => app.go("#/today"), {}, { id: "ui-pause" }),
    button("walk.to_review", "go", () => app.go("#/review"), {}, { id: "ui-review" }),
  ];
  return page(
    { title: draft.stove, back: draft.at.part ? walkRoute(draft.at.part) : "#/review", actions },
    list(walkParts(compiled, judgements).map((part) => partRow(app, judgements, part))),
    draft.is_short && button("walk.all_checks", "plain", checkAll),
    disclosure(
      "walk.discard",
      h("p", null, t("walk.discard_why")),
      button("walk.discard_do", "plain", app.discardDraft, {}, { id: "ui-discard" }),
    ),
  );
}
