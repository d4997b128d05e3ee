// Who inspects.
import { getMeta } from "../store/local_db.js";
import { h } from "../ui/dom.js";
import { languageChooser, link, list, page, row } from "../ui/page.js";
import { formatDay, t } from "../ui/words.js";

/**
 * @param {App} app
 * @param {Pins} pins
 * @param {Person} person
 */
function personRow(app, pins, { code, name }) {
  const { hash, removed_at } = pins[code] ?? {};
  const removed = removed_at && t("who.pin_removed", { day: formatDay(removed_at) });
  return row({
    text: name,
    pressed: code === app.inspector,
    onclick: () => (hash ? app.go(`#/pin/${code}`) : app.chooseInspector(code)),
    under: hash ? t("who.pin") : removed,
  });
}

/** @param {App} app */
export async function whoScreen(app) {
  const inspectors = app.reference.people.filter((person) => person.is_inspector);
  /** @type {Pins} */
  const pins = (await getMeta("pins")) ?? {};
  const rows = inspectors.map((person) => personRow(app, pins, person));
  const name = app.personName(app.inspector);
  return page(
    { title: t("who.title"), back: app.inspector && "#/today" },
    inspectors.length === 0 && h("p", null, t("who.none")),
    list(rows, { class: "rows tall" }),
    app.inspector &&
      !pins[app.inspector]?.hash &&
      link(`#/pin/${app.inspector}`, t("new_pin.title", { name })),
    languageChooser(app),
  );
}
