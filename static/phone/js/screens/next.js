// Which stove comes next, and who made it.
import { askedSteps, isShort, newDraft } from "../inspection/draft.js";
import { splitKey, stoveKey } from "../inspection/event.js";
import { doubtSerial, proposeSerial, readSerial } from "../inspection/serial.js";
import { h } from "../ui/dom.js";
import { alertLine, button, page } from "../ui/page.js";
import { canScan } from "../ui/camera.js";
import { enterGoesOn } from "../ui/typing.js";
import { t, wordOf } from "../ui/words.js";
import { checklistChoice } from "./checklist_choice.js";
import { listDoneKeys, readStove } from "./stoves.js";

/**
 * Trades whose work is looked at in this batch: an unpainted one asks for no painter.
 * @param {Checklist} compiled
 * @param {Batch} batch
 */
const tradesOf = (compiled, batch) => [
  ...new Set(askedSteps(compiled, batch).map((step) => step.trade)),
];

/**
 * Crew as recorded: the artisan of each step, by the trade of the step; unknown ones are left out.
 * @param {Pick<Step, "id" | "trade">[]} steps
 * @param {Record<string, string | null>} byTrade
 * @returns {Record<string, string>}
 */
export function crewOfSteps(steps, byTrade) {
  const known = steps.filter((step) => byTrade[step.trade]);
  return Object.fromEntries(known.map((step) => [step.id, byTrade[step.trade] ?? ""]));
}

/**
 * Keys of the stoves of a batch that an inspection counts of, or that are paused on this phone.
 * @param {App} app
 * @param {Batch} batch
 */
async function takenKeys(app, batch) {
  const [done, paused] = await Promise.all([listDoneKeys(batch.code), app.listPaused()]);
  return [...done, ...paused.map(({ key }) => key)];
}

/**
 * Stages whose pieces are built in and inspected themselves in an open batch; else nobody would
 * know a serial. What an earlier stage of the same stove asks for is not asked again.
 * @param {Pick<App, "openBatches" | "checklistsOf">} app
 * @param {Pick<Checklist, "made_from" | "same_serial">} compiled
 */
export function piecesAsked(app, { made_from = [], same_serial = [] }) {
  const inspected = app
    .openBatches()
    .flatMap((batch) => app.checklistsOf(batch))
    .map(({ compiled }) => compiled);
  const earlier = inspected.filter(({ stage }) => same_serial.includes(stage));
  const asked = earlier.flatMap((one) => one.made_from ?? []);
  return made_from.filter(
    (piece) => inspected.some(({ stage }) => stage === piece) && !asked.includes(piece),
  );
}

/**
 * @param {App} app
 * @param {Batch} batch
 * @param {CompiledChecklist} checklist
 * @returns {Promise<StoveForm>}
 */
export async function formFor(app, batch, checklist) {
  const { compiled } = checklist;
  const crew = tradesOf(compiled, batch).map((trade) => [trade, batch.crew?.[trade] ?? null]);
  const taken = (await takenKeys(app, batch)).map(splitKey);
  const here = taken.filter(({ stage }) => stage === compiled.stage).map(({ stove }) => stove);
  // Without the check character of the tag: with it, the proposal would fit without a look at the
  // tag.
  const serial = proposeSerial(batch, here);
  const made_from = Object.fromEntries(piecesAsked(app, compiled).map((piece) => [piece, ""]));
  return { batch, checklist, crew: Object.fromEntries(crew), serial, made_from };
}

/**
 * @param {App} app
 * @param {StoveForm} form
 * @param {string} trade
 */
function artisanChoice(app, { crew }, trade) {
  const people = app.reference.people.filter((person) => person.trades.includes(trade));
  const options = [{ code: "", name: t("next.unknown") }, ...people].map(({ code, name }) =>
    h("option", { value: code, selected: code === (crew[trade] ?? "") }, name),
  );
  const select = h("select", { id: `ui-trade-${trade}` }, options);
  select.addEventListener("change", () => {
    crew[trade] = select.value || null;
  });
  return h("label", { class: "side" }, wordOf("trade", trade), select);
}

/**
 * Serials of the pieces built in, by stage, or null where what was typed is none; read as a stove's
 * own, but a piece may come from another batch.
 * @param {Pick<StoveForm, "batch" | "made_from">} form
 * @returns {Record<string, string> | null}
 */
export function readPieces({ batch: { attributes }, made_from }) {
  /** @type {Record<string, string>} */
  const read = {};
  for (const [piece, typed] of Object.entries(made_from)) {
    if (!typed.trim()) continue;
    const serial = readSerial(typed, { attributes });
    if (!serial) return null;
    read[piece] = serial;
  }
  return read;
}

/**
 * The walk begins, or goes on where it was paused; a stove that an inspection counts of is shown. A
 * serial that is probably a slip is asked about first.
 * @param {App} app
 * @param {StoveForm} form
 */
async function startWalk(app, form) {
  const { batch, checklist, serial } = form;
  const stove = readSerial(serial, batch);
  if (!stove) return app.refresh({ form: { ...form, error: t("next.no_serial") } });
  const { compiled } = checklist;
  const key = stoveKey(compiled.stage, stove);
  if ((await readStove(key)).inspections.length > 0) {
    app.form = null;
    return app.go(`#/stove/${encodeURIComponent(key)}`);
  }
  const doubt = doubtSerial(stove, batch);
  if (doubt && form.sure !== serial) return app.refresh({ form: { ...form, asked: serial } });
  const made_from = readPieces(form);
  if (!made_from) return app.refresh({ form: { ...form, error: t("next.no_piece") } });
  const crew = crewOfSteps(askedSteps(compiled, batch), form.crew);
  const { inspector } = app;
  return app.start(
    newDraft({ ...checklist, batch, stove, inspector, crew, made_from, started_at: app.now() }),
  );
}

/**
 * The serial, and below it whether a stove of a sample is asked everything or only what is
 * critical.
 * @param {StoveForm} form
 */
function serialField(form) {
  const { stage } = form.checklist.compiled;
  const scope = h("p", { id: "ui-scope", class: "strong", role: "status" });
  const showScope = () => {
    const stove = readSerial(form.serial, form.batch);
    const key = isShort(form.batch, stage, stove ?? "") ? "next.short" : "next.sampled";
    scope.textContent = stove && form.batch.sample?.stage === stage ? t(key) : "";
  };
  const typing = { autocomplete: "off", spellcheck: "false", maxlength: 40, value: form.serial };
  const serial = h("input", { id: "ui-serial", class: "code", ...typing });
  serial.addEventListener("input", () => {
    form.serial = serial.value;
    document.getElementById("ui-odd")?.remove();
    showScope();
  });
  showScope();
  return [h("label", null, t("next.serial"), serial), scope];
}

/**
 * The serial of a piece built in, which may be left empty.
 * @param {StoveForm} form
 * @param {string} piece the stage at which it is inspected itself
 */
function pieceField({ made_from }, piece) {
  const typing = { autocomplete: "off", spellcheck: "false", maxlength: 40 };
  const input = h("input", { id: `ui-piece-${piece}`, value: made_from[piece], ...typing });
  input.addEventListener("input", () => {
    made_from[piece] = input.value;
  });
  const name = t("next.piece", { piece: wordOf("piece", piece) });
  return h("label", { class: "side" }, name, input);
}

/**
 * What is odd about the serial that was asked about, with the way to say that it is right.
 * @param {App} app
 * @param {StoveForm} form
 */
function oddSerial(app, form) {
  const { asked, batch, serial } = form;
  const stove = readSerial(serial, batch);
  const doubt = stove && asked === serial && doubtSerial(stove, batch);
  if (!doubt) return null;
  const params = { stove, n: batch.planned, prefix: batch.serial_prefix };
  const start = () => startWalk(app, { ...form, sure: serial });
  return h(
    "div",
    { id: "ui-odd" },
    alertLine(t(`next.odd_${doubt}`, params)),
    button("next.odd_start", "plain wide", start, { stove }, { id: "ui-sure" }),
  );
}

/**
 * @param {App} app
 * @param {StoveForm} form
 */
function formPage(app, form) {
  const { batch, checklist } = form;
  const begin = () => startWalk(app, form);
  const start = button("next.start", "go", begin, {}, { id: "ui-start" });
  const batchName = { batch: batch.title ?? batch.code, size: wordOf("size", batch.size) };
  const scan = canScan() && h("a", { id: "ui-scan", class: "plain", href: "#/scan" }, t("scan.go"));
  const screen = page(
    { title: t("next.title"), back: "#/today", actions: [scan, start] },
    serialField(form),
    form.error && alertLine(form.error),
    oddSerial(app, form),
    Object.keys(form.made_from).map((piece) => pieceField(form, piece)),
    h("p", null, t("next.batch", batchName)),
    h("h2", null, t("next.crew")),
    tradesOf(checklist.compiled, batch).map((trade) => artisanChoice(app, form, trade)),
  );
  enterGoesOn(screen, begin);
  return screen;
}

/** @param {App} app */
export async function nextScreen(app) {
  const batch = app.batch(app.batchCode());
  if (!batch)
    return page({ title: t("next.title"), back: "#/today" }, h("p", null, t("today.no_batch")));
  const checklists = app.checklistsOf(batch);
  if (app.form?.batch.code !== batch.code) app.form = null;
  if (!app.form && checklists.length !== 1)
    return checklistChoice("next.stage", checklists, async (checklist) =>
      app.refresh({ form: await formFor(app, batch, checklist) }),
    );
  app.form ??= await formFor(app, batch, checklists[0]);
  return formPage(app, app.form);
}
