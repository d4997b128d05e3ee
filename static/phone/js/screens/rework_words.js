// Who repaired what failed: asked before a stove is checked again, and told afterwards.
import { h } from "../ui/dom.js";
import { joinLine } from "../ui/page.js";
import { localize, t } from "../ui/words.js";

/**
 * A choice among the artisans of the trade; chosen ones are written into `repaired` by check.
 * @param {App} app
 * @param {Checklist} compiled
 * @param {Check} check
 * @param {Record<string, string>} repaired
 */
export function reworkChoice(app, compiled, check, repaired) {
  const trade = compiled.steps.find(({ id }) => id === check.step)?.trade ?? "";
  const people = app.reference.people.filter((person) => person.trades.includes(trade));
  const options = [{ code: "", name: t("next.unknown") }, ...people].map(({ code, name }) =>
    h("option", { value: code, selected: code === (repaired[check.id] ?? "") }, name),
  );
  const select = h("select", { id: `ui-reworked-${check.id}` }, options);
  select.addEventListener("change", () => {
    if (select.value) repaired[check.id] = select.value;
    else delete repaired[check.id];
  });
  return h("label", { class: "side" }, t("stove.reworked_by"), select);
}

/**
 * @param {App} app
 * @param {Checklist} compiled
 * @param {Record<string, string>} repaired
 */
export function reworkWords(app, compiled, repaired) {
  const named = Object.entries(repaired).map(([id, code]) => {
    const ask = localize(compiled.checks.find((check) => check.id === id)?.ask) || id;
    return t("stove.reworked", { ask, name: app.personName(code) });
  });
  return joinLine(named);
}
