// Where the inspector starts from: today, stoves that wait for a second look, stoves of this phone.
import { foldStove, stoveKey } from "../inspection/stove.js";
import { newCorrection, newLook, newReinspection } from "../inspection/draft.js";
import { findChecklist } from "../store/local_db.js";
import { countUnsent, listEvents, listEventsOf, listMine, listStoveKeys } from "../store/outbox.js";
import { status, syncNow } from "../sync/sync.js";
import { faultLines, photoFigure, voidForm } from "./review.js";
import {
  button,
  formatNumber,
  h,
  languageChoice,
  page,
  pick,
  row,
  say,
  sayReason,
  shape,
  showDay,
  showTime,
} from "./view.js";

const MB = 1_000_000;
const MANY_PHOTOS = 20;
const NEW_MS = 7 * 86_400_000;
const CALM = ["sync.sent", "sync.nothing", "sync.busy"];
// Without signal these two are the rule and pass by themselves: said only to a thumb that asked.
const USUAL = ["sync.not-connected", "sync.wait", "sync.left"];
const DISPOSITION_MARK = { release: "pass", rework: "fail", concession: "doubtful", scrap: "fail" };

const splitKey = (key) => {
  const [stage, ...rest] = key.split("/");
  return { stage, stove: rest.join("/") };
};
const dispositionMark = (kind) => shape(DISPOSITION_MARK[kind] ?? "missing");

/** State of one stove from every event this phone knows of it, with the rows they came in. */
const readStove = async (key) => foldRows(await listEvents(key));
const foldRows = (rows) => ({ rows, ...foldStove(rows.map((kept) => kept.event)) });

const isWaiting = ({ disposition }) =>
  ["rework", "hold"].includes(disposition?.kind ?? disposition);

/** Stoves that are in rework or held: [{key, state, batch}]. */
async function listWaiting(app) {
  const found = await Promise.all(
    app.openBatches().map(async (batch) => {
      const keys = await listStoveKeys(batch.code, ({ event }) => isWaiting(event.body));
      const stoves = await listEventsOf(keys);
      return keys.map((key, at) => ({ key, state: foldRows(stoves[at]), batch }));
    }),
  );
  return found.flat().filter(({ state }) => isWaiting(state));
}

/** How many stoves of the agreed sample are done, and which are still to inspect. */
function sampleLine({ sample }, keys) {
  if (!sample) return null;
  const left = sample.serials.filter((stove) => !keys.includes(stoveKey(sample.stage, stove)));
  const params = {
    done: sample.serials.length - left.length,
    n: sample.serials.length,
    left: left.join(", "),
  };
  return h("small", null, say(left.length ? "today.sample" : "today.sample_done", params));
}

async function batchRow(app, batch) {
  const keys = await listStoveKeys(batch.code);
  const stages = app.checklistsOf(batch);
  const counts = stages.map(({ compiled }) => {
    const done = keys.filter((key) => splitKey(key).stage === compiled.stage).length;
    const params = { done, n: batch.planned, title: pick(compiled.title) };
    return h("small", null, say(stages.length > 1 ? "today.stage_done" : "today.done", params));
  });
  return row({
    pressed: batch.code === app.batchCode(),
    text: batch.title ?? batch.code,
    under: [counts, sampleLine(batch, keys)],
    onclick: () => app.chooseBatch(batch.code),
  });
}

/** What the server has of this phone; what it has not yet is said at the thumb, with the way to send it. */
async function sendLines(app) {
  const { unsent, relayed, created, on_server, photos, last_result, device_id } = await status();
  const key = last_result?.text_key;
  const trouble =
    key &&
    !CALM.includes(key) &&
    (app.sent || !USUAL.includes(key)) &&
    h(
      "small",
      null,
      say(key),
      key === "sync.pair-again" && h("a", { class: "line", href: "#/join" }, say("join.title")),
    );
  const send = async () => app.refresh({ sent: await syncNow() });
  const isMuch = photos.waiting >= MANY_PHOTOS;
  const isNew = Date.now() - parseInt(device_id.replace("-", "").slice(0, 12), 16) < NEW_MS;
  const waits = unsent + relayed > 0;
  // Opened from the home screen. In a tab, above all a private one, the browser may forget everything.
  const isInstalled = navigator.standalone || matchMedia("(display-mode: standalone)").matches;
  return {
    kept: h(
      "div",
      null,
      h(
        "p",
        null,
        unsent === 0 && h("b", null, say("today.unsent", { n: 0 }), " "),
        say("today.kept", { kept: on_server, n: created }),
        !waits && trouble,
      ),
      relayed > 0 && h("p", null, say("today.relayed", { n: relayed })),
      photos.waiting > 0 &&
        h(
          "p",
          { class: isMuch ? "note" : null },
          say("today.photos", { n: photos.waiting, mb: Math.ceil(photos.bytes / MB) }),
          isMuch && say("today.photos_many"),
        ),
      isNew && !isInstalled && h("p", { class: "note" }, say("today.not_installed")),
      waits && h("a", { class: "line", href: "#/export" }, say("export.title")),
    ),
    unsent: waits && [
      trouble,
      h(
        "div",
        { class: "unsent" },
        h("p", { "aria-live": "polite" }, h("b", null, say("today.unsent", { n: unsent }))),
        button("today.send", "plain", send),
      ),
    ],
  };
}

export async function todayScreen(app) {
  const batches = app.openBatches();
  const [drafts, sending, studies] = await Promise.all([
    app.listPaused(),
    sendLines(app),
    listStudies(app),
  ]);
  const waiting = h("a", { class: "line", href: "#/rework" }, say("today.waiting_unknown"));
  listWaiting(app).then((list) =>
    waiting.replaceChildren(say("today.waiting", { n: list.length })),
  );
  return page(
    {
      title: app.reference.yard.name,
      actions: [
        sending.unsent,
        button(
          "today.next",
          "go",
          () => app.go("#/next"),
          {},
          { id: "ui-next", disabled: batches.length === 0 },
        ),
      ],
    },
    h(
      "a",
      { class: "line", href: "#/who" },
      say("today.inspector"),
      h("b", null, app.personName(app.inspector)),
    ),
    drafts.map((draft) =>
      button(
        draft.kind === "correction" ? "today.resume_correction" : "today.resume",
        "plain wide",
        () => app.resume(draft),
        { stove: draft.stove },
      ),
    ),
    app.hasUpdate && button("today.update", "plain wide", app.switchVersion),
    h("h2", null, say("today.batches")),
    batches.length === 0 && h("p", null, say("today.no_batch")),
    h("ul", { class: "rows" }, await Promise.all(batches.map((batch) => batchRow(app, batch)))),
    waiting,
    studies
      .filter(({ left }) => left.length > 0)
      .map(({ id, title, left }) =>
        h(
          "a",
          { class: "line", href: `#/study/${id}` },
          title,
          h("b", null, formatNumber(left.length)),
        ),
      ),
    h("a", { class: "line", href: "#/mine" }, say("today.mine")),
    sending.kept,
    h("a", { class: "line", href: "#/practice" }, say("practice.title")),
    h("a", { class: "line", href: "#/settings" }, say("today.settings")),
    languageChoice(app),
  );
}

export async function savedScreen(app) {
  if (!app.saved) return app.go("#/today");
  const { stove, kind, study, practised } = app.saved;
  const unsent = await countUnsent();
  return page(
    {
      title: say(practised ? "practice.mark" : "saved.title"),
      className: "saved",
      actions: [
        button("saved.today", "plain", () => app.go("#/today")),
        button(
          "today.next",
          "go",
          () => app.go(study ? `#/study/${study}` : "#/next"),
          {},
          { id: "ui-next" },
        ),
      ],
    },
    h("div", { class: "done-mark", "aria-hidden": "true" }, shape("pass")),
    h("p", { class: "serial" }, stove),
    kind && h("p", { class: "strong" }, dispositionMark(kind), " ", say(`disposition.${kind}`)),
    h("p", null, say(practised ? "practice.would" : "saved.kept")),
    practised && faultLines(app.compiled, practised),
    h("p", { "aria-live": "polite" }, say("today.unsent", { n: unsent })),
  );
}

/** Stoves as rows that open them: [{key, state, under}]. */
const stoveRows = (app, lines) =>
  h(
    "ul",
    { class: "rows" },
    lines.map(({ key, state, under }) =>
      row({
        mark: dispositionMark(state.disposition),
        text: splitKey(key).stove,
        under,
        onclick: () => app.go(`#/stove/${encodeURIComponent(key)}`),
      }),
    ),
  );

export async function reworkScreen(app) {
  const waiting = await listWaiting(app);
  return page(
    { title: say("rework.title"), back: "#/today" },
    waiting.length === 0 && h("p", null, say("rework.none")),
    stoveRows(
      app,
      waiting.map(({ key, state, batch }) => ({
        key,
        state,
        under: say("rework.line", {
          disposition: say(`disposition.${state.disposition}`),
          batch: batch.title ?? batch.code,
          day: showDay(state.inspections.at(-1).captured_at),
        }),
      })),
    ),
  );
}

export async function mineScreen(app) {
  const midnight = new Date(app.now());
  midnight.setHours(0, 0, 0, 0);
  const rows = await listMine(midnight.toISOString());
  const keys = [...new Set(rows.map((kept) => kept.key))];
  const lines = await Promise.all(
    keys.map(async (key) => {
      const state = await readStove(key);
      const sent = say(
        state.rows.some((kept) => kept.state === "unsent") ? "mine.not_sent" : "mine.sent",
      );
      return {
        key,
        state,
        under: say("mine.line", {
          disposition: say(`disposition.${state.disposition ?? "none"}`),
          sent,
        }),
      };
    }),
  );
  return page(
    { title: say("mine.title"), back: "#/today" },
    keys.length === 0 && h("p", null, say("mine.none")),
    stoveRows(app, lines),
  );
}

async function secondLook(app, key, state) {
  const batch = app.batch(state.inspections.at(-1).batch);
  const current = app
    .checklistsOf(batch)
    .find(({ compiled }) => compiled.stage === splitKey(key).stage);
  await app.start(
    newReinspection(
      {
        ...current,
        batch,
        stove: splitKey(key).stove,
        inspector: app.inspector,
        started_at: app.now(),
      },
      state.inspections,
    ),
  );
}

async function correct(app, key, state, index) {
  const { id } = state.inspections[index];
  const { checklist } = state.rows.find((kept) => kept.event.id === id).event;
  await app.start(
    newCorrection(
      { ...splitKey(key), checklist, inspector: app.inspector },
      state.inspections,
      index,
    ),
  );
}

async function inspectionBlock(app, key, state, index) {
  const inspection = state.inspections[index];
  const compiled = await findChecklist(inspection.checklist_hash);
  const { kind, reason } = inspection.body.disposition;
  const kept = state.rows.filter(
    ({ event }) => event.id === inspection.id || event.corrects === inspection.id,
  );
  const aside = kept.find(
    (one) => one.reason && !kept.some(({ event }) => event.kind === "quarantine_decision"),
  );
  return h(
    "section",
    { class: "ledger" },
    h("h2", null, dispositionMark(kind), ` ${say(`disposition.${kind}`)}`),
    h(
      "p",
      null,
      say("stove.seen", {
        day: showDay(inspection.captured_at),
        time: showTime(inspection.captured_at),
        name: app.personName(inspection.inspector),
      }),
    ),
    reason && h("p", null, say("stove.reason", { reason })),
    inspection.corrected > 0 && h("p", null, say("stove.corrected", { n: inspection.corrected })),
    aside && h("p", { class: "note" }, say("stove.aside", { reason: sayReason(aside.reason) })),
    compiled ? faultLines(compiled, inspection) : h("p", null, say("stove.no_checklist")),
    await Promise.all(inspection.photos.map(photoFigure)),
    compiled && button("stove.correct", "plain wide", () => correct(app, key, state, index)),
    voidForm(app, splitKey(key), inspection),
  );
}

export async function stoveScreen(app, key) {
  const state = await readStove(key);
  const waits = isWaiting(state);
  const blocks = await Promise.all(
    state.inspections.map((_, index) => inspectionBlock(app, key, state, index)),
  );
  const look =
    waits && app.inspector
      ? [button("stove.second_look", "go", () => secondLook(app, key, state))]
      : [];
  return page(
    { title: splitKey(key).stove, back: waits ? "#/rework" : "#/mine", actions: look },
    state.rows
      .filter(({ event }) => event.kind === "quarantine_decision")
      .map(({ event: { body } }) => h("p", { class: "note" }, say(`stove.${body.action}`, body))),
    blocks.length === 0 && h("p", null, say("stove.voided")),
    blocks.reverse(),
  );
}

// --- Looking again without seeing what was answered before: studies, and the one stove in twenty

const SECOND_LOOK = "second-look";

/** [{id, title, left: looks that this inspector has still to make, each {stove, repeat}, ...}]. */
function listStudies({ reference: { studies = [], second_looks = [] }, inspector }) {
  const others = second_looks
    .filter(({ but_inspector }) => but_inspector !== inspector)
    .map(({ stove }) => ({ stove, repeat: 1 }));
  return Promise.all(
    [
      ...studies,
      { id: SECOND_LOOK, title: say("study.second"), orders: { [inspector]: others } },
    ].map(async (study) => {
      const rows = await listEvents(study.id);
      const isDone = ({ stove, repeat }) =>
        rows.some(
          ({ event: { body, ...event } }) =>
            event.inspector === inspector && body.stove === stove && body.repeat === repeat,
        );
      return { ...study, left: (study.orders[inspector] ?? []).filter((look) => !isDone(look)) };
    }),
  );
}

/** A study names serials, second looks the key of a stove. */
const serialOf = ({ id }, { stove }) => (id === SECOND_LOOK ? splitKey(stove).stove : stove);

/** A study says what its looks are held against; a second look is held against what the first one was. */
async function beginLook(app, study, look, trouble) {
  const { checklist_hash: hash, body } =
    study.id === SECOND_LOOK
      ? ((await readStove(look.stove)).inspections[0] ?? {})
      : { ...study, body: study };
  const compiled = hash && (await findChecklist(hash));
  if (!compiled) return trouble.append(say("study.no_checklist"));
  return app.start(
    newLook({
      compiled,
      hash,
      batch: { size: body.size, attributes: body.batch_attributes },
      checks: study.checks,
      stove: serialOf(study, look),
      look: { study: study.id, ...look },
      inspector: app.inspector,
      started_at: app.now(),
    }),
  );
}

export async function studyScreen(app, id) {
  const study = (await listStudies(app)).find((one) => one.id === id);
  if (!study) return app.go("#/today");
  const trouble = h("p", { class: "note", role: "alert" });
  // The order of a study is part of it; of the one in twenty any may be at hand.
  const offered = id === SECOND_LOOK ? study.left : study.left.slice(0, 1);
  return page(
    { title: study.title, back: "#/today" },
    h("p", null, say("study.how")),
    h("p", { class: "strong" }, say("study.left", { n: study.left.length })),
    trouble,
    offered.map((look) =>
      button("study.begin", "plain wide", () => beginLook(app, study, look, trouble), {
        stove: serialOf(study, look),
      }),
    ),
  );
}
