// The record is kept.
import { countUnsent } from "../store/records.js";
import { dispositionMark, recordMark } from "../ui/disposition_mark.js";
import { h } from "../ui/dom.js";
import { alertLine, button, page, strong } from "../ui/page.js";
import { t } from "../ui/words.js";
import { faultCards } from "./fault_card.js";

/** @param {App} app */
export async function savedScreen(app) {
  if (!app.saved) return app.go("#/today");
  const { stove, kind, study, first, practised } = app.saved;
  const unsent = await countUnsent();
  const next = () => app.go(study ? `#/study/${study}` : "#/next");
  const actions = [
    button("saved.today", first ? "go" : "plain", () => app.go("#/today"), {}, { id: "ui-today" }),
    !first && button("today.next", "go", next, {}, { id: "ui-next" }),
  ];
  return page(
    { title: t(practised ? "practice.mark" : "saved.title"), className: "saved", actions },
    h("div", { class: "done-mark" }, kind ? dispositionMark(kind) : recordMark("phone")),
    h("p", { class: "serial" }, stove),
    first && (first === "good" ? strong(t("first.good_now")) : alertLine(t("first.stop_now"))),
    kind && strong(t(`disposition.${kind}`)),
    practised
      ? h("p", null, t("practice.would"))
      : h("p", { class: "kept" }, recordMark("phone"), t("saved.kept")),
    practised && faultCards(app, app.compiled, practised.body),
    h("p", { "aria-live": "polite", "data-unsent": unsent }, t("today.unsent", { n: unsent })),
  );
}
