// The record is kept.
import { countUnsent } from "../store/records.js";
import { h } from "../ui/dom.js";
import { button, page, strong } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { t } from "../ui/words.js";
import { faultCards } from "./fault_card.js";
import { dispositionMark } from "./stoves.js";

/** @param {App} app */
export async function savedScreen(app) {
  if (!app.saved) return app.go("#/today");
  const { stove, kind, study, practised } = app.saved;
  const unsent = await countUnsent();
  const next = () => app.go(study ? `#/study/${study}` : "#/next");
  const actions = [
    button("saved.today", "plain", () => app.go("#/today"), {}, { id: "ui-today" }),
    button("today.next", "go", next, {}, { id: "ui-next" }),
  ];
  return page(
    { title: t(practised ? "practice.mark" : "saved.title"), className: "saved", actions },
    h("div", { class: "done-mark", "aria-hidden": "true" }, shape("pass")),
    h("p", { class: "serial" }, stove),
    kind && strong(dispositionMark(kind), " ", t(`disposition.${kind}`)),
    h("p", null, t(practised ? "practice.would" : "saved.kept")),
    practised && faultCards(app, app.compiled, practised.body),
    h("p", { "aria-live": "polite" }, t("today.unsent", { n: unsent })),
  );
}
