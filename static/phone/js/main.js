// Puts the app together: what is known, which screen shows, and that every tap is stored.
import { atFirstOpen } from "./inspection/draft.js";
import * as keep from "./store/local_db.js";
import { switchVersion } from "./worker_registration.js";
import { onChange } from "./store/outbox.js";
import { startSync } from "./sync/sync.js";
import * as home from "./screens/home.js";
import * as start from "./screens/start.js";
import * as review from "./screens/review.js";
import * as walk from "./screens/walk.js";
import { draftRoute, findLanguage, h, say, shape, useWords } from "./screens/view.js";

// The address #/today shows todayScreen(app) of one of these, #/stove/KEY stoveScreen(app, KEY).
const MODULES = { ...home, ...start, ...review, ...walk };
const screenOf = (name) => MODULES[`${name}Screen`];
// These show what the sync changes; others are left alone so that nothing moves under a thumb.
const REPAINTED = ["today", "saved", "mine", "settings"];
// Open before anybody is named: a practice has no inspector, and without a draft its screens lead home.
const NAMELESS = ["who", "pin", "join", "practice", "walk", "parts", "review", "saved"];
// A second tap of a quick thumb must not land on the next check's buttons. Typing is never held up.
const SETTLE_MS = 350;
const STAMP_MS = 1100;

const [root, stampBox, warning] = ["screen", "ui-stamp", "ui-warning"].map((id) =>
  document.getElementById(id),
);
let drafting = Promise.resolve();
let painted = null;
let turns = 0;

// Beside these it holds, once they are known: reference, inspector, chosenBatch, draft, compiled, form, saved, sent.
const app = {
  build: document.querySelector("meta[name=app-build]")?.content ?? "",

  hasUpdate: false,
  switchVersion,
  now: () => new Date().toISOString(),
  openBatches: () => app.reference.batches.filter((batch) => batch.is_open),
  batch: (code) => app.reference.batches.find((batch) => batch.code === code),
  batchCode: () =>
    (app.openBatches().find(({ code }) => code === app.chosenBatch) ?? app.openBatches()[0])?.code,
  personName: (code) =>
    app.reference.people.find((person) => person.code === code)?.name ?? code ?? say("who.nobody"),
  drawingOf: (compiled) => app.reference.drawings[compiled.drawing],

  /** Newest revision of every checklist of the batch: [{hash, compiled}]. */
  checklistsOf: (batch) =>
    batch.checklist_ids
      .map(
        (id) =>
          app.reference.checklists
            .filter(({ compiled }) => compiled.id === id)
            .sort((a, b) => b.compiled.revision - a.compiled.revision)[0],
      )
      .filter(Boolean),

  async chooseInspector(code) {
    app.inspector = code;
    await keep.setMeta("inspector", code);
    app.go("#/today");
  },

  async chooseBatch(code) {
    app.chosenBatch = code;
    await keep.setMeta("batch", code);
    app.refresh();
  },

  async speak(tag) {
    await speak(tag);
    app.refresh();
    return keep.setMeta("language", tag);
  },

  async listPaused() {
    // Nobody goes on with the blind look of another.
    return (await keep.listDrafts()).filter(
      (draft) => draft.key !== app.draft?.key && !(draft.look && draft.inspector !== app.inspector),
    );
  },

  /** Begins a draft at its first open check, or goes on with the one this phone already has of that stove. */
  async start(draft) {
    const same = await keep.findDraft(draft.key);
    const compiled = await keep.findChecklist(draft.checklist_hash);
    return app.resume(same ?? (draft.at.screen ? draft : atFirstOpen(compiled, draft)));
  },

  async resume(draft) {
    app.compiled = await keep.findChecklist(draft.checklist_hash);
    app.form = null;
    app.goOn({ ...draft, is_open: true });
  },

  pause() {
    app.keep({ ...app.draft, is_open: false });
    app.draft = null;
    app.go("#/today");
  },

  async throwAway() {
    const { key, answers } = app.draft;
    app.draft = null;
    await drafting;
    await keep.deleteDraft(key);
    await keep.dropLoosePhotos(Object.values(answers).flatMap((answer) => answer.photos ?? []));
    app.go("#/today");
  },

  /** Takes the draft and stores it behind earlier taps, but never a practice; says so when the phone does not keep it. */
  keep(draft) {
    app.draft = draft;
    if (draft.is_practice) return;
    drafting = drafting
      .then(() => keep.saveDraft(draft))
      .then(
        () => {
          warning.textContent = "";
        },
        () => {
          warning.textContent = say("not_saved.draft");
        },
      );
  },

  /** Takes the draft and shows where it goes on. */
  goOn(draft) {
    app.keep(draft);
    app.go(draftRoute(draft));
  },

  change(draft) {
    app.keep(draft);
    app.refresh();
  },

  settled: () => drafting,

  /** Runs what must be kept, true when it was; else a full screen says so and offers to try again. */
  async attempt(work) {
    for (;;) {
      try {
        await work();
        return true;
      } catch (error) {
        const again = await new Promise((resolve) => {
          app.leaveAlarm = () => resolve(false);
          const back = () => {
            resolve(false);
            app.refresh();
          };
          root.replaceChildren(start.notSavedNotice({ error, back, retry: () => resolve(true) }));
        });
        if (!again) return false;
      }
    }
  },

  go(route) {
    if (location.hash === route) return app.refresh();
    location.hash = route;
  },

  refresh(change = {}) {
    Object.assign(app, change);
    return show();
  },

  repaint() {
    if (REPAINTED.includes(painted?.name)) app.refresh();
  },

  /** A passing sign that a part is done; the next one already shows below it. */
  stamp(title, verdict) {
    stampBox.replaceChildren(
      shape(verdict),
      h("span", null, say("walk.stamp", { part: title, verdict: say(`verdict.${verdict}`) })),
    );
    stampBox.className = `shown ${verdict}`;
    clearTimeout(app.stampTimer);
    app.stampTimer = setTimeout(() => {
      stampBox.className = "";
    }, STAMP_MS);
  },

  async reload() {
    [app.reference, app.inspector, app.chosenBatch] = await Promise.all([
      keep.getReference(),
      keep.getMeta("inspector"),
      keep.getMeta("batch"),
    ]);
  },
};

function readRoute() {
  const join = location.hash.match(/^#join=([0-9A-Za-z-]{8,9})$/);
  if (join) app.joinCode = join[1];
  if (join) return { name: "join" };
  const [name, ...params] = location.hash.slice(2).split("/").map(decodeURIComponent);
  return { name: screenOf(name) ? name : "today", params };
}

function permitted(route) {
  if (app.draft?.is_practice && route.name === "today") app.draft = null;
  if (!app.reference && route.name !== "practice") return { name: "join" };
  if (!app.inspector && !NAMELESS.includes(route.name)) return { name: "who" };
  return route;
}

async function show() {
  const turn = ++turns;
  app.leaveAlarm?.();
  const { name, params = [] } = permitted(readRoute());
  const address = [name, ...params].join("/");
  const moved = painted?.address !== address;
  const focused = document.activeElement?.id;
  const scrolled = root.querySelector(".content, .checks")?.scrollTop ?? 0;
  const screen = await screenOf(name)(app, ...params);
  // A slower screen asked for earlier must not cover the one asked for last.
  if (turn !== turns || !(screen instanceof Element)) return;
  if (app.draft?.is_practice) screen.prepend(h("p", { class: "practice" }, say("practice.mark")));
  root.replaceChildren(screen);
  root.querySelector("dialog")?.showModal();
  const asked = screen.querySelector("#ui-pass") && app.draft.at.check;
  if (moved || (asked && asked !== painted.asked)) settle();
  painted = { name, address, asked };
  if (moved) root.querySelector("h1")?.focus({ preventScroll: true });
  else restore(focused, scrolled);
  [...root.querySelectorAll("#ui-now, .how")].at(-1)?.scrollIntoView({ block: "nearest" });
}

function settle() {
  root.classList.add("settling");
  clearTimeout(app.settleTimer);
  app.settleTimer = setTimeout(() => root.classList.remove("settling"), SETTLE_MS);
}

function restore(id, scrolled) {
  const list = root.querySelector(".content, .checks");
  // Setting it, even to what it is, makes the page lay itself out.
  if (list && scrolled) list.scrollTop = scrolled;
  if (id) document.getElementById(id)?.focus({ preventScroll: true });
}

/** The browser can lose its store without a word; whoever inspects must hear of it before going on. */
async function showLoss() {
  const loss = await keep.findLoss();
  if (!loss) return;
  await new Promise((resolve) => root.replaceChildren(start.lossNotice(loss, resolve)));
  await keep.markLoss({ is_seen: true });
}

/** From now on in the language chosen here, else in the phone's own. */
async function speak(chosen) {
  const { hreflang: lang, dir, href } = findLanguage(chosen);
  useWords(await (await fetch(href)).json(), lang);
  Object.assign(document.documentElement, { lang, dir });
  document.title = say("app.name");
}

async function boot() {
  // The phone's own language first: what cannot start must be said too.
  await speak();
  if (!isSecureContext) return root.replaceChildren(start.insecureNotice());
  await app.reload();
  const chosen = await keep.getMeta("language");
  if (chosen) await speak(chosen);
  if (navigator.standalone === false && !app.reference)
    return root.replaceChildren(start.installNotice(readRoute() && app.joinCode));
  const open = (await keep.listDrafts()).find((draft) => draft.is_open);
  if (open && app.reference) {
    app.draft = open;
    app.compiled = await keep.findChecklist(open.checklist_hash);
    history.replaceState(null, "", draftRoute(open));
  }
  await showLoss();
  addEventListener("hashchange", show);
  document.addEventListener("qcapp-elsewhere", () => {
    warning.textContent = say("not_saved.VersionError");
  });
  document.addEventListener("qcapp-version", () => {
    app.hasUpdate = true;
    app.repaint();
  });
  onChange(async () => {
    await app.reload();
    app.repaint();
  });
  await show();
  return startSync();
}

boot().catch((error) => root.replaceChildren(start.brokenNotice(error)));
