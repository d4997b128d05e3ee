// Any stove of the open and the last batches by its serial: typed, typed by a scanner, or read from
// its tag.
import { splitKey } from "../inspection/event.js";
import { batchesOf, findStoves } from "../inspection/find_serial.js";
import { listStoves } from "../store/projection.js";
import { dispositionMark } from "../ui/disposition_mark.js";
import { h } from "../ui/dom.js";
import { canScan } from "../ui/camera.js";
import { link, list, page, row } from "../ui/page.js";
import { enterGoesOn } from "../ui/typing.js";
import { formatDay, localize, t } from "../ui/words.js";
import { formFor } from "./next.js";
import { readStove, serialOfStove } from "./stoves.js";

/**
 * Every stove that this phone has a record of, also one whose records were voided.
 * @param {App} app
 * @returns {Promise<KnownStove[]>}
 */
async function listKnown({ reference: { batches } }) {
  const byCode = new Map(batches.map((batch) => [batch.code, batch]));
  const stoves = await listStoves([...byCode.keys()]);
  return stoves.flatMap(({ key, batch: code }) => {
    const batch = byCode.get(code);
    return batch ? { key, batch } : [];
  });
}

/**
 * @param {App} app
 * @param {KnownStove} stove
 */
async function knownRow(app, { key, batch }) {
  const state = await readStove(key);
  const disposition = t(`disposition.${state.disposition ?? "none"}`);
  const day = formatDay((state.inspections.at(-1) ?? state.rows[0].event).captured_at);
  return row({
    mark: dispositionMark(state.disposition),
    text: h("b", null, serialOfStove(key, state)),
    under: t("rework.line", { disposition, batch: batch.title ?? batch.code, day }),
    onclick: () => app.go(`#/stove/${encodeURIComponent(key)}`),
  });
}

/**
 * A stove of an open batch that nobody has seen: its inspection begins with the next screen.
 * @param {App} app
 * @param {Batch} batch
 * @param {CompiledChecklist} checklist
 * @param {string} serial as typed
 */
function startRow(app, batch, checklist, serial) {
  const start = async () => {
    await app.chooseBatch(batch.code);
    app.form = { ...(await formFor(app, batch, checklist)), serial };
    app.go("#/next");
  };
  const under = t("find.not_seen", { batch: batch.title ?? batch.code });
  const text = t("find.start", { stove: serial, title: localize(checklist.compiled.title) });
  return row({ text, under, onclick: start });
}

/**
 * @param {App} app
 * @param {KnownStove[]} known
 */
async function resultRows(app, known) {
  const typed = app.search ?? "";
  const found = findStoves(typed, known);
  const rows = await Promise.all(found.map((stove) => knownRow(app, stove)));
  const exact = found.filter(({ fit }) => fit === 0);
  const isKnown = (/** @type {Batch} */ { code }, /** @type {string} */ stage) =>
    exact.some(({ key, batch }) => batch.code === code && splitKey(key).stage === stage);
  const fresh = batchesOf(typed, app.openBatches()).flatMap(({ batch }) =>
    app
      .checklistsOf(batch)
      .filter(({ compiled }) => !isKnown(batch, compiled.stage))
      .map((checklist) => startRow(app, batch, checklist, typed.trim())),
  );
  return [...rows, ...fresh];
}

/**
 * @param {App} app
 * @param {string} [scanned] what a tag said
 */
export async function findScreen(app, scanned) {
  if (scanned !== undefined) app.search = scanned;
  const known = await listKnown(app);
  const results = h("div", { id: "ui-results", "aria-live": "polite" });
  const typing = { autocomplete: "off", spellcheck: "false", maxlength: 40 };
  const field = h("input", { id: "ui-serial", class: "code", value: app.search ?? "", ...typing });
  const show = async () => {
    const typed = app.search ?? "";
    const rows = await resultRows(app, known);
    if (typed !== app.search) return;
    const none = typed.trim() && rows.length === 0 && h("p", null, t("find.none"));
    results.replaceChildren(none || list(rows, { class: "rows tall" }));
  };
  field.addEventListener("input", () => {
    app.search = field.value;
    show();
  });
  // The first of the list is what was meant: a scanner ends with Enter.
  const open = async () => {
    await show();
    results.querySelector("button")?.click();
  };
  await show();
  const scan = canScan() && h("a", { id: "ui-scan", class: "go", href: "#/scan" }, t("scan.go"));
  const screen = page(
    { title: t("find.title"), back: "#/today", actions: scan },
    h("label", null, t("find.serial"), field),
    results,
    !app.search && h("p", null, t("find.how")),
    link("#/mine", t("mine.title")),
  );
  enterGoesOn(screen, open);
  return screen;
}
