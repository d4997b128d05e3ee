// Where the inspector starts from: the open batches, what waits, and what was sent.
import { splitKey, stoveKey } from "../inspection/event.js";
import { status } from "../sync/status.js";
import { h } from "../ui/dom.js";
import { button, languageChooser, link, list, note, page, row } from "../ui/page.js";
import { formatNumber, localize, t } from "../ui/words.js";
import { listDoneKeys, listWaiting } from "./stoves.js";
import { listStudies } from "./studies.js";

const MB = 1_000_000;
const MANY_PHOTOS = 20;
const NEW_MS = 7 * 86_400_000;
const CALM = ["sync.sent", "sync.nothing", "sync.busy"];
// Without signal these are the rule and pass by themselves: said only to a thumb that asked.
const USUAL = ["sync.not-connected", "sync.wait", "sync.left"];

/**
 * How many stoves of the agreed sample are done, and which are still to inspect.
 * @param {Batch} batch
 * @param {string[]} keys
 */
function sampleLine({ sample }, keys) {
  if (!sample) return null;
  const left = sample.serials.filter((stove) => !keys.includes(stoveKey(sample.stage, stove)));
  const n = sample.serials.length;
  const params = { done: n - left.length, n, left: left.join(", ") };
  return h("small", null, t(left.length ? "today.sample" : "today.sample_done", params));
}

/**
 * @param {App} app
 * @param {Batch} batch
 */
async function batchRow(app, batch) {
  const keys = await listDoneKeys(batch.code);
  const stages = app.checklistsOf(batch);
  const counts = stages.map(({ compiled }) => {
    const done = keys.filter((key) => splitKey(key).stage === compiled.stage).length;
    const params = { done, n: batch.planned, title: localize(compiled.title) };
    return h("small", null, t(stages.length > 1 ? "today.stage_done" : "today.done", params));
  });
  return row({
    pressed: batch.code === app.batchCode(),
    text: batch.title ?? batch.code,
    under: [...counts, sampleLine(batch, keys)],
    onclick: () => app.chooseBatch(batch.code),
  });
}

/**
 * Why it was not sent, where a person must know; null when it passes by itself.
 * @param {App} app
 * @param {SyncStatus} now
 */
function errorLine(app, { last_result }) {
  const key = last_result?.text_key;
  if (!key || CALM.includes(key) || (!app.sent && USUAL.includes(key))) return null;
  const again = key === "sync.pair-again" && link("#/join", t("join.title"));
  return h("small", null, t(key), again);
}

/** @param {SyncStatus} now */
function photosLine({ photos }) {
  if (photos.waiting === 0) return null;
  const isMuch = photos.waiting >= MANY_PHOTOS;
  const params = { n: photos.waiting, mb: Math.ceil(photos.bytes / MB) };
  const why = isMuch && t("today.photos_many");
  return h("p", { class: isMuch ? "note" : null }, t("today.photos", params), why);
}

/**
 * A phone that joined lately and runs in a tab: above all a private one may forget everything.
 * @param {SyncStatus} now
 */
function installLine({ device_id }) {
  const joinedAt = parseInt(device_id.replace("-", "").slice(0, 12), 16);
  const isInstalled = navigator.standalone || matchMedia("(display-mode: standalone)").matches;
  const isNew = Date.now() - joinedAt < NEW_MS;
  return isNew && !isInstalled && note(t("today.not_installed"));
}

/**
 * What the server has of this phone.
 * @param {App} app
 * @param {SyncStatus} now
 */
function sentLines(app, now) {
  const { unsent, relayed, created, on_server } = now;
  const waits = unsent + relayed > 0;
  const none = unsent === 0 && h("b", null, t("today.unsent", { n: 0 }), " ");
  const kept = t("today.kept", { kept: on_server, n: created });
  return h(
    "div",
    null,
    h("p", null, none, kept, !waits && errorLine(app, now)),
    relayed > 0 && h("p", null, t("today.relayed", { n: relayed })),
    photosLine(now),
    installLine(now),
    waits && link("#/export", t("export.title")),
  );
}

/**
 * What the server does not have yet, at the thumb, with the way to send it.
 * @param {App} app
 * @param {SyncStatus} now
 */
function unsentLine(app, now) {
  if (now.unsent + now.relayed === 0) return null;
  const count = h("b", null, t("today.unsent", { n: now.unsent }));
  const send = async () => {
    const { syncNow } = await import("../sync/sync.js");
    return app.refresh({ sent: await syncNow() });
  };
  return [
    errorLine(app, now),
    h(
      "div",
      { class: "unsent" },
      h("p", { "aria-live": "polite" }, count),
      button("today.send", "plain", send, {}, { id: "ui-send" }),
    ),
  ];
}

/**
 * @param {App} app
 * @param {Draft} draft
 */
function resumeButton(app, draft) {
  const key = draft.kind === "correction" ? "today.resume_correction" : "today.resume";
  return button(key, "plain wide", () => app.resume(draft), { stove: draft.stove });
}

/** Counted after the screen shows: with many records it takes a while. @param {App} app */
function waitingLink(app) {
  const line = link("#/rework", t("today.waiting_unknown"));
  listWaiting(app).then((stoves) => line.replaceChildren(t("today.waiting", { n: stoves.length })));
  return line;
}

/** @param {OpenStudy} study */
const studyLink = ({ id, title, left }) =>
  link(`#/study/${id}`, title, h("b", null, formatNumber(left.length)));

/** @param {App} app */
export async function todayScreen(app) {
  const batches = app.openBatches();
  const [drafts, now, studies] = await Promise.all([app.listPaused(), status(), listStudies(app)]);
  const batchRows = await Promise.all(batches.map((batch) => batchRow(app, batch)));
  const next = { id: "ui-next", disabled: batches.length === 0 };
  const actions = [
    unsentLine(app, now),
    button("today.next", "go", () => app.go("#/next"), {}, next),
  ].flat();
  return page(
    { title: app.reference.yard.name, actions },
    link("#/who", t("today.inspector"), h("b", null, app.personName(app.inspector))),
    drafts.map((draft) => resumeButton(app, draft)),
    app.hasUpdate && button("today.update", "plain wide", app.switchVersion),
    h("h2", null, t("today.batches")),
    batches.length === 0 && h("p", null, t("today.no_batch")),
    list(batchRows),
    waitingLink(app),
    studies.filter(({ left }) => left.length > 0).map(studyLink),
    link("#/mine", t("today.mine")),
    sentLines(app, now),
    link("#/practice", t("practice.title")),
    link("#/settings", t("today.settings")),
    languageChooser(app),
  );
}
