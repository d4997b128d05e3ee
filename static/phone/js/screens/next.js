// Which stove comes next, and who made it.
import { isShort, newDraft } from "../inspection/draft.js";
import { proposeSerial, readSerial } from "../inspection/serial.js";
import { listStoveKeys } from "../store/records.js";
import { h } from "../ui/dom.js";
import { alertLine, button, page } from "../ui/page.js";
import { t, wordOf } from "../ui/words.js";
import { checklistChoice } from "./checklist_choice.js";

/** @param {Checklist} compiled */
const tradesOf = (compiled) => [...new Set(compiled.steps.map((step) => step.trade))];

/**
 * Crew as recorded: the artisan of each step, by the trade of the step; unknown ones are left out.
 * @param {Checklist} compiled
 * @param {Record<string, string | null>} byTrade
 * @returns {Record<string, string>}
 */
export function crewOfSteps(compiled, byTrade) {
  const known = compiled.steps.filter((step) => byTrade[step.trade]);
  return Object.fromEntries(known.map((step) => [step.id, byTrade[step.trade] ?? ""]));
}

/**
 * Keys of the stoves of a batch that are recorded, or paused on this phone.
 * @param {App} app
 * @param {Batch} batch
 */
async function takenKeys(app, batch) {
  const [recorded, paused] = await Promise.all([listStoveKeys(batch.code), app.listPaused()]);
  return [...recorded, ...paused.map(({ key }) => key)];
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
async function formFor(app, batch, checklist) {
  const { compiled } = checklist;
  const crew = tradesOf(compiled).map((trade) => [trade, batch.crew?.[trade] ?? null]);
  // Without the check character of the tag: with it, the proposal would fit without a look at the
  // tag.
  const stage = `${compiled.stage}/`;
  const prefix = stage + (batch.serial_prefix ?? "");
  const serial = proposeSerial(prefix, await takenKeys(app, batch)).slice(stage.length);
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
 * @param {App} app
 * @param {StoveForm} form
 */
async function startWalk(app, form) {
  const { batch, checklist, serial } = form;
  const stove = readSerial(serial, batch);
  if (!stove) return app.refresh({ form: { ...form, error: t("next.no_serial") } });
  const { compiled } = checklist;
  if ((await takenKeys(app, batch)).includes(`${compiled.stage}/${stove}`))
    return app.refresh({ form: { ...form, error: t("next.taken", { stove }) } });
  const made_from = readPieces(form);
  if (!made_from) return app.refresh({ form: { ...form, error: t("next.no_piece") } });
  const crew = crewOfSteps(compiled, form.crew);
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
 * @param {App} app
 * @param {StoveForm} form
 */
function formPage(app, form) {
  const { batch, checklist } = form;
  const start = button("next.start", "go", () => startWalk(app, form), {}, { id: "ui-start" });
  const batchName = { batch: batch.title ?? batch.code, size: wordOf("size", batch.size) };
  return page(
    { title: t("next.title"), back: "#/today", actions: start },
    serialField(form),
    form.error && alertLine(form.error),
    Object.keys(form.made_from).map((piece) => pieceField(form, piece)),
    h("p", null, t("next.batch", batchName)),
    h("h2", null, t("next.crew")),
    tradesOf(checklist.compiled).map((trade) => artisanChoice(app, form, trade)),
  );
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
