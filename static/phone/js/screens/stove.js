// One stove: its inspections, and what can be done with them.
import { dropCarried, newCorrection, newReinspection } from "../inspection/draft.js";
import { splitKey } from "../inspection/event.js";
import { isHeld } from "../inspection/stove.js";
import { findChecklist } from "../store/local_db.js";
import { record } from "../store/outbox.js";
import { dispositionMark } from "../ui/disposition_mark.js";
import { h } from "../ui/dom.js";
import { button, disclosure, note, page, wordsField } from "../ui/page.js";
import { formatDay, formatTime, reasonWords, t, wordOf } from "../ui/words.js";
import { faultCards } from "./fault_card.js";
import { photoFigure } from "./photo_views.js";
import { reworkChoice, reworkWords } from "./rework_words.js";
import { readStove, serialOfStove } from "./stoves.js";

/**
 * @param {App} app
 * @param {string} key
 * @param {StoveRecord} state
 * @param {Record<string, string>} repaired who repaired what failed, by check
 */
async function reinspect(app, key, state, repaired) {
  const { inspections } = state;
  const { stage } = splitKey(key);
  const stove = serialOfStove(key, state);
  const batch = app.batch(inspections.at(-1)?.batch);
  const current = batch && app.checklistsOf(batch).find(({ compiled }) => compiled.stage === stage);
  if (!batch || !current) return;
  const { inspector } = app;
  const fields = { ...current, batch, stove, inspector, started_at: app.now() };
  const again = newReinspection(fields, inspections);
  // What left the yard and came back is looked at as if for the first time.
  const draft = isHeld(state) ? again : dropCarried(again);
  const named = Object.keys(repaired).length > 0 && { reworked_by: repaired };
  await app.start({ ...draft, ...named });
}

/**
 * @param {App} app
 * @param {string} key
 * @param {StoveRecord} state
 * @param {number} index
 */
async function correct(app, key, { inspections, rows }, index) {
  const { id, stove } = inspections[index];
  const { stage } = splitKey(key);
  const checklist = rows.find(({ event }) => event.id === id)?.event.checklist ?? "";
  const fields = { stage, stove, checklist, inspector: app.inspector };
  await app.start(newCorrection(fields, inspections, index));
}

/**
 * Why the server holds a record of this inspection back, as long as nobody has decided.
 * @param {StoveRecord} state
 * @param {Inspection} inspection
 */
function quarantineReason({ rows }, { id }) {
  const about = rows.filter(({ event }) => event.id === id || event.corrects === id);
  if (about.some(({ event }) => event.kind === "quarantine_decision")) return null;
  return about.find(({ reason }) => reason)?.reason;
}

/**
 * @param {App} app
 * @param {Inspection} inspection
 */
function inspectionHead(app, { body, captured_at, inspector, corrected }) {
  const { kind, reason } = body.disposition;
  const name = app.personName(inspector);
  const seen = { day: formatDay(captured_at), time: formatTime(captured_at), name };
  return [
    h("h2", null, dispositionMark(kind), ` ${t(`disposition.${kind}`)}`),
    h("p", null, t("stove.seen", seen)),
    reason && h("p", null, t("stove.reason", { reason })),
    ...Object.entries(body.made_from ?? {}).map(([piece, serial]) =>
      h("p", null, t("stove.piece", { piece: wordOf("piece", piece), serial })),
    ),
    corrected > 0 && h("p", null, t("stove.corrected", { n: corrected })),
  ];
}

/**
 * Photos that no card shows: of checks that passed, or that a correction took back.
 * @param {Inspection} inspection
 */
function loosePhotos({ photos, body: { answers, verdicts } }) {
  const shown = Object.entries(answers)
    .filter(([id]) => verdicts[id] === "fail")
    .flatMap(([, answer]) => answer.photos ?? []);
  return photos.filter((photo) => !shown.includes(photo));
}

/**
 * @param {App} app
 * @param {string} key
 * @param {StoveRecord} state
 * @param {number} index
 * @param {Record<string, string>} repaired
 */
async function inspectionBlock(app, key, state, index, repaired) {
  const inspection = state.inspections[index];
  const compiled = await findChecklist(inspection.checklist_hash);
  const reason = quarantineReason(state, inspection);
  const { body } = inspection;
  const isLast = index === state.inspections.length - 1;
  const choice = (/** @type {Check} */ check) =>
    compiled && isLast && isHeld(state) && reworkChoice(app, compiled, check, repaired);
  return h(
    "section",
    { class: "ledger" },
    inspectionHead(app, inspection),
    reason && note(t("stove.quarantined", { reason: reasonWords(reason) })),
    compiled && body.reworked_by && h("p", null, reworkWords(app, compiled, body.reworked_by)),
    compiled ? faultCards(app, compiled, body, choice) : h("p", null, t("stove.no_checklist")),
    await Promise.all(loosePhotos(inspection).map(photoFigure)),
    compiled && button("stove.correct", "plain wide", () => correct(app, key, state, index)),
    voidForm(app, key, inspection),
  );
}

/**
 * Says that an inspection does not count, and why.
 * @param {App} app
 * @param {string} key
 * @param {Inspection} inspection
 */
function voidForm(app, key, { id, batch, stove }) {
  const reason = wordsField(null, "", () => {});
  const voidInspection = async () => {
    const text = reason.value.trim();
    if (!text) return reason.focus();
    const { stage } = splitKey(key);
    const fields = { kind: "void", inspector: app.inspector, batch, stage, stove };
    const more = { corrects: id, body: { reason: text }, photos: [] };
    await app.attempt(() => record({ ...fields, ...more }));
    app.refresh();
  };
  return disclosure(
    "stove.void",
    h("label", null, t("stove.void_reason"), reason),
    button("stove.void_do", "plain", voidInspection),
  );
}

/**
 * @param {App} app
 * @param {string} key
 */
export async function stoveScreen(app, key) {
  const state = await readStove(key);
  const { inspections, rows, decided } = state;
  const waits = isHeld(state);
  /** @type {Record<string, string>} */
  const repaired = {};
  const blocks = await Promise.all(
    inspections.map((_, at) => inspectionBlock(app, key, state, at, repaired)),
  );
  const decisions = rows.filter(({ event }) => event.kind === "quarantine_decision");
  const again = () => reinspect(app, key, state, repaired);
  const batch = app.batch(inspections.at(-1)?.batch);
  const isListed = Boolean(batch && inspections.length > 0 && app.inspector);
  const label = waits ? "stove.reinspect" : "stove.returned";
  return page(
    {
      title: serialOfStove(key, state),
      back: app.search ? "#/find" : waits ? "#/rework" : "#/mine",
      actions: isListed && button(label, waits ? "go" : "plain", again, {}, { id: "ui-again" }),
    },
    isListed && !batch?.is_open && note(t("stove.closed")),
    decisions.map(({ event: { body } }) => note(t(`stove.${body.action}`, body))),
    decided && note(t("stove.decided", { ...decided, what: t(`disposition.${decided.kind}`) })),
    blocks.length === 0 && h("p", null, t("stove.voided")),
    blocks.reverse(),
  );
}
