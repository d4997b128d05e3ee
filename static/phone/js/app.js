// What is known, and what a tap may do with it: every screen gets this object.
import * as localDb from "./store/local_db.js";
import { status } from "./sync/status.js";
import { showWarning, vibrate } from "./ui/feedback.js";
import { draftRoute } from "./ui/routes.js";
import { loadLanguage, t } from "./ui/words.js";
import { notSavedNotice } from "./screens/notices.js";
import { navigate, repaint, show, showNotice } from "./router.js";
import { switchVersion } from "./worker_registration.js";

// Long enough to see the mark and to reach for the button.
const UNDO_MS = 7000;
let undoTimer = 0;
let storing = Promise.resolve();

/** @param {CompiledChecklist[]} revisions */
const newest = (revisions) =>
  revisions.sort((a, b) => b.compiled.revision - a.compiled.revision)[0];

/** @param {Draft} draft */
const listPhotos = ({ answers }) => Object.values(answers).flatMap(({ photos }) => photos ?? []);

/**
 * What was read with the first transaction, for the first screen alone.
 * @type {(Known & {counted: StoredStatus}) | null}
 */
let atStart = null;

/** @param {string[]} names */
const dropPhotos = async (names) =>
  (await import("./store/photos.js")).dropLoosePhotos(names);

/** Tag of the reference whose checklists and drawings are here. */
/** @type {string | undefined} */
let definedBy;

// Not known at the start, and there before a screen needs it: see permitted() in router.js.
const LATER = /** @type {any} */ (null);

/** @type {App} */
export const app = {
  reference: LATER,
  checklists: [],
  drawings: {},
  inspector: LATER,
  draft: LATER,
  compiled: LATER,
  shown: {},
  build: document.querySelector("meta[name=app-build]")?.getAttribute("content") ?? "",
  hasUpdate: false,
  switchVersion,
  now: () => new Date().toISOString(),

  // --- What the yard's reference says

  openBatches: () => app.reference.batches.filter((batch) => batch.is_open),
  batch: (code) => app.reference.batches.find((batch) => batch.code === code),

  batchCode() {
    const open = app.openBatches();
    return (open.find(({ code }) => code === app.chosenBatch) ?? open[0])?.code;
  },

  personName(code) {
    const person = app.reference.people.find((one) => one.code === code);
    return person?.name ?? code ?? t("who.nobody");
  },

  drawingOf: (name) => app.practised?.drawings[name] ?? app.shown[name] ?? app.drawings[name],

  checklistBy(hash) {
    const { practised } = app;
    return practised?.hash === hash ? practised.compiled : localDb.getChecklist(hash);
  },

  checklistsOf(batch) {
    const revisionsOf = (/** @type {string} */ id) =>
      app.checklists.filter(({ compiled }) => compiled.id === id);
    return batch.checklist_ids.map((id) => newest(revisionsOf(id))).filter(Boolean);
  },

  // --- What is chosen here

  async chooseInspector(code) {
    app.inspector = code;
    await localDb.setMeta("inspector", code);
    app.go("#/today");
  },

  async chooseBatch(code) {
    app.chosenBatch = code;
    await localDb.setMeta("batch", code);
    app.refresh();
  },

  async chooseLanguage(tag) {
    await loadLanguage(tag);
    app.refresh();
    return localDb.setMeta("language", tag);
  },

  // --- The draft: stored at every tap, one tap after the other

  async listPaused() {
    // Nobody goes on with the blind look of another.
    const isOthers = (/** @type {Draft} */ draft) =>
      draft.look && draft.inspector !== app.inspector;
    const drafts = atStart?.drafts ?? (await localDb.listDrafts());
    return drafts.filter((draft) => draft.key !== app.draft?.key && !isOthers(draft));
  },

  async start(draft) {
    const same = await localDb.findDraft(draft.key);
    const compiled = await app.checklistBy(draft.checklist_hash);
    return app.resume(same ?? (draft.at.screen ? draft : await app.moveToFirst(compiled, draft)));
  },

  async moveToFirst(compiled, draft) {
    if (!app.isByTool) {
      const { moveToFirstOpen } = await import("./inspection/walk_order.js");
      return moveToFirstOpen(compiled, draft);
    }
    const { moveToFirstByTool } = await import("./inspection/tool_order.js");
    return moveToFirstByTool(compiled, draft);
  },

  async resume(draft) {
    [app.compiled, app.shown] = await Promise.all([
      app.checklistBy(draft.checklist_hash),
      localDb.findShown(draft.checklist_hash),
    ]);
    app.form = null;
    app.showDraft({ ...draft, is_open: true });
  },

  status: () => status(atStart?.counted),

  closeDraft() {
    app.draft = LATER;
    app.shown = {};
  },

  leaveDraft() {
    app.storeDraft({ ...app.draft, is_open: false });
    app.closeDraft();
  },

  async discardDraft() {
    const { draft } = app;
    app.closeDraft();
    await storing;
    await localDb.deleteDraft(draft.key);
    await dropPhotos(listPhotos(draft));
    app.go("#/today");
  },

  storeDraft(draft) {
    app.draft = draft;
    if (draft.is_practice) return;
    storing = storing
      .then(() => localDb.saveDraft(draft))
      .then(
        () => showWarning(""),
        () => showWarning(t("not_saved.draft")),
      );
  },

  showDraft(draft) {
    app.storeDraft(draft);
    app.go(draftRoute(draft));
  },

  changeDraft(draft) {
    app.storeDraft(draft);
    app.refresh();
  },

  draftStored: () => storing,

  async attempt(work) {
    for (;;) {
      try {
        await work();
        return true;
      } catch (error) {
        if (!(await askToRetry(/** @type {Error} */ (error)))) return false;
      }
    }
  },

  // --- What shows

  go(route) {
    return location.hash === route ? app.refresh() : navigate(app, route);
  },

  refresh(change = {}) {
    Object.assign(app, change);
    return show(app);
  },

  repaint: () => repaint(app),

  showAnswer(verdict, text) {
    if (!app.isStill) vibrate(verdict);
    clearTimeout(undoTimer);
    app.answered = { verdict, text };
    undoTimer = setTimeout(() => {
      app.answered = null;
      document.getElementById("ui-answered")?.remove();
    }, UNDO_MS);
  },

  async undo() {
    clearTimeout(undoTimer);
    app.answered = null;
    const { takeBack } = await import("./inspection/answers.js");
    const { draft } = app;
    const back = takeBack(draft);
    const kept = listPhotos(back);
    app.showDraft(back);
    const dropped = listPhotos(draft).filter((photo) => !kept.includes(photo));
    if (dropped.length > 0) storing.then(() => dropPhotos(dropped));
  },

  async showFirst(known) {
    atStart = known;
    await show(app);
    atStart = null;
  },

  take({ reference, meta }) {
    const { inspector, batch, is_still, is_by_tool } = meta;
    const chosen = { chosenBatch: batch, isStill: is_still, isByTool: is_by_tool };
    Object.assign(app, { reference, inspector, ...chosen });
  },

  async reload() {
    app.take(await localDb.readKnown());
    if (definedBy !== undefined) await app.loadDefinitions();
  },

  isDefined: () => definedBy === (app.reference?.tag ?? ""),

  async loadDefinitions() {
    if (app.isDefined()) return;
    const whole = await localDb.readReference();
    definedBy = whole?.tag ?? "";
    app.checklists = whole?.checklists ?? [];
    app.drawings = whole?.drawings ?? {};
  },
};

/**
 * A full screen says that it was not kept; true when it shall be tried again.
 * @param {Error} error
 */
function askToRetry(error) {
  return new Promise((resolve) => {
    app.leaveNotice = () => resolve(false);
    const back = () => {
      resolve(false);
      app.refresh();
    };
    showNotice(notSavedNotice({ error, back, retry: () => resolve(true) }));
  });
}
