// Which screen shows for an address. The first one comes with the page; the others are loaded when
// they are asked for, and in any case soon after the start, so that no tap waits for them.
import { findElement, h } from "./ui/dom.js";
import { decimalMark, t } from "./ui/words.js";
import { brokenNotice } from "./screens/notices.js";
import { todayScreen } from "./screens/today.js";

/**
 * The address #/today shows todayScreen(app), #/stove/KEY stoveScreen(app, KEY).
 * @type {Record<string, () => Promise<(app: App, ...params: any[]) => unknown>>}
 */
const SCREENS = {
  export: async () => (await import("./screens/export_file.js")).exportScreen,
  find: async () => (await import("./screens/find.js")).findScreen,
  first: async () => (await import("./screens/first.js")).firstScreen,
  gauge: async () => (await import("./screens/gauges.js")).gaugeScreen,
  gauges: async () => (await import("./screens/gauges.js")).gaugesScreen,
  holes: async () => (await import("./screens/holes.js")).holesScreen,
  join: async () => (await import("./screens/join.js")).joinScreen,
  mine: async () => (await import("./screens/mine.js")).mineScreen,
  next: async () => (await import("./screens/next.js")).nextScreen,
  parts: async () => (await import("./screens/parts.js")).partsScreen,
  pin: async () => (await import("./screens/pin.js")).pinScreen,
  practice: async () => (await import("./screens/practice.js")).practiceScreen,
  review: async () => (await import("./screens/review.js")).reviewScreen,
  rework: async () => (await import("./screens/rework.js")).reworkScreen,
  saved: async () => (await import("./screens/saved.js")).savedScreen,
  scan: async () => (await import("./screens/scan.js")).scanScreen,
  settings: async () => (await import("./screens/settings.js")).settingsScreen,
  stove: async () => (await import("./screens/stove.js")).stoveScreen,
  study: async () => (await import("./screens/study.js")).studyScreen,
  walk: async () => (await import("./screens/walk.js")).walkScreen,
  who: async () => (await import("./screens/who.js")).whoScreen,
};
// These show what the sync changes; others are left alone so that nothing moves under a thumb.
const REPAINTED = ["today", "saved", "mine", "settings"];
// Open before anybody is named: a practice has no inspector, and without a draft its screens lead
// home.
const NAMELESS = ["who", "pin", "join", "practice", "walk", "parts", "review", "saved"];
// Screens of the inspection that is open: left for any other one, it is paused. From a file of
// unsent work there is a way back to what could not be saved.
const OF_DRAFT = ["walk", "parts", "review", "export", "holes"];
// One step of the browser's own way back leaves all of these.
const AS_ONE = /^#\/(walk|parts|review)(\/|$)/;
// A browser that skipped a step back says nothing of it.
const BACK_MS = 400;
// Shown without a checklist or a drawing, which take long to read.
const PLAIN = ["today", "who", "pin", "join", "mine", "saved", "gauges", "gauge"];
// A second tap of a quick thumb must not land on the next check's buttons. Typing is never held up.
const SETTLE_MS = 350;
// Until the next screen is there, on a slow phone.
const PAINT_MS = 700;
const PRELOAD_AFTER_MS = 500;

// Kept here because even a module that is there already takes import() a turn of the event loop.
/** @type {Map<string, (app: App, ...params: any[]) => unknown>} */
const loaded = new Map([["today", todayScreen]]);


const root = findElement("screen");
/** @type {PaintedScreen | null} */
let painted = null;
let lastRequest = 0;
let settleTimer = 0;

/** @returns {Route} */
export function readRoute() {
  const join = location.hash.match(/^#join=([0-9A-Za-z-]{8,9})$/);
  if (join) return { name: "join", params: [], joinCode: join[1] };
  const [name, ...params] = location.hash.slice(2).split("/").map(decodeURIComponent);
  return { name: Object.hasOwn(SCREENS, name) ? name : "today", params };
}

/**
 * The screen asked for, or the one that must come before it.
 * @param {App} app
 * @param {Route} route
 * @returns {Route}
 */
function permitted(app, route) {
  if (route.joinCode) app.joinCode = route.joinCode;
  if (app.draft?.is_practice && route.name === "today") app.closeDraft();
  if (app.draft && !app.draft.is_practice && !OF_DRAFT.includes(route.name)) app.leaveDraft();
  if (!app.reference && route.name !== "practice") return { name: "join", params: [] };
  if (!app.inspector && !NAMELESS.includes(route.name)) return { name: "who", params: [] };
  return route;
}

/**
 * Shows the screen of the address; what goes wrong on the way there is said on the screen.
 * @param {App} app
 */
export async function show(app) {
  const request = ++lastRequest;
  // A second tap of a quick thumb comes before the next check is there.
  if (painted?.asked && painted.asked !== app.draft?.at?.check) settle(PAINT_MS);
  app.leaveNotice?.();
  const { name, params } = permitted(app, readRoute());
  const before = rememberPlace();
  try {
    const makeScreen = loaded.get(name) ?? (await loadScreen(name));
    if (!PLAIN.includes(name) && !app.isDefined()) await app.loadDefinitions();
    const screen = await makeScreen(app, ...params);
    // A slower screen asked for earlier must not cover the one asked for last.
    if (request !== lastRequest || !(screen instanceof Element)) return;
    paint(app, screen, { name, address: [name, ...params].join("/") }, before);
  } catch (error) {
    if (request === lastRequest) showNotice(brokenNotice(/** @type {Error} */ (error)));
  }
}

/**
 * @param {App} app
 * @param {Element} screen
 * @param {{name: string, address: string}} route
 * @param {LeftAt} before
 */
function paint(app, screen, { name, address }, before) {
  const moved = painted?.address !== address;
  if (app.draft?.is_practice) screen.prepend(h("p", { class: "practice" }, t("practice.mark")));
  swap(screen);
  showSheet();
  const asked = screen.querySelector("#ui-pass") && app.draft.at.check;
  if (moved || (asked && asked !== painted?.asked)) settle();
  painted = { name, address, asked, hash: location.hash };
  if (moved) root.querySelector("h1")?.focus({ preventScroll: true });
  else restorePlace(before);
  const shown = root.querySelectorAll("#ui-now .now-head, .how:not(.one-line)");
  [...shown].at(-1)?.scrollIntoView({ block: "nearest" });
}

/**
 * Puts the screen in place of the one that shows. A part of that one which it keeps stays in the
 * page: taken out and put in again, all of the drawing would be laid out anew at every tap.
 * @param {Element} screen
 */
function swap(screen) {
  const place = /** @type {Element & {kept?: Element} | undefined} */ (
    [...screen.children].find((child) => "kept" in child)
  );
  const kept = place?.kept;
  const shown = kept?.parentElement;
  if (!place || !kept || !shown || shown !== root.firstElementChild) {
    if (kept) place?.replaceWith(kept);
    return root.replaceChildren(screen);
  }
  shown.className = screen.className;
  for (const child of [...shown.children]) if (child !== kept) child.remove();
  const all = [...screen.children];
  const at = all.indexOf(place);
  kept.before(...all.slice(0, at));
  kept.after(...all.slice(at + 1));
}

// A sheet over a list scrolls for itself.
const findList = () =>
  root.querySelector(".sheet-content") ?? root.querySelector(".content, .checks");

/** @returns {LeftAt} */
function rememberPlace() {
  const list = findList();
  const focused = document.activeElement?.id;
  return { focused, list: list?.className, scrolled: list?.scrollTop ?? 0 };
}

/** @param {LeftAt} place */
function restorePlace({ focused, list: before, scrolled }) {
  const list = findList();
  // Setting it, even to what it is, makes the page lay itself out.
  if (list && scrolled && list.className === before) list.scrollTop = scrolled;
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

/** Taps are not taken for so long. */
function settle(ms = SETTLE_MS) {
  root.classList.add("settling");
  clearTimeout(settleTimer);
  settleTimer = setTimeout(() => root.classList.remove("settling"), ms);
}

/**
 * Goes to another screen. From wherever an inspection begins, the way back leads home; inside it,
 * one step back leaves it.
 * @param {App} app
 * @param {string} route
 */
export async function navigate(app, route) {
  settle(PAINT_MS);
  if (history.state?.sheet) await dropSheetEntry();
  const isInside = AS_ONE.test(location.hash);
  if (isInside && (AS_ONE.test(route) || route === "#/saved")) {
    history.replaceState(null, "", route);
    return show(app);
  }
  if (AS_ONE.test(route) && !isInside) history.replaceState(null, "", "#/today");
  location.hash = route;
}

/** A sheet that shows has an entry of its own in the history, which the way back takes away. */
function showSheet() {
  const dialog = root.querySelector("dialog");
  dialog?.showModal();
  if (dialog && !history.state?.sheet) history.pushState({ sheet: true }, "");
  if (!dialog && history.state?.sheet) dropSheetEntry();
}

/** @type {Promise<void> | null} */
let dropping = null;

/** Resolves when the entry is gone. */
function dropSheetEntry() {
  dropping ??= new Promise((resolve) => {
    const done = () => {
      removeEventListener("popstate", done);
      clearTimeout(timer);
      dropping = null;
      resolve();
    };
    const timer = setTimeout(done, BACK_MS);
    addEventListener("popstate", done);
    history.back();
  });
  return dropping;
}

/** The phone's own way back, pressed over a sheet, cancels it. */
export function listenForBack() {
  addEventListener("popstate", () => {
    const isSame = painted?.hash === location.hash;
    if (dropping || history.state?.sheet || !isSame) return;
    root.querySelector("dialog[open]")?.dispatchEvent(new Event("cancel", { cancelable: true }));
  });
}

/** @param {App} app */
export function repaint(app) {
  if (painted && REPAINTED.includes(painted.name)) show(app);
}

/** @param {Element} notice */
export function showNotice(notice) {
  root.replaceChildren(notice);
}

/**
 * Without a network a page that no worker serves yet could not load them later. The first fraction
 * takes long too (words.js), and no tap shall wait for it.
 */
export function preloadScreens() {
  const load = () => Object.keys(SCREENS).forEach((name) => loadScreen(name).catch(() => {}));
  setTimeout(load, PRELOAD_AFTER_MS);
  setTimeout(decimalMark, 2 * PRELOAD_AFTER_MS);
}

/** @param {string} name */
async function loadScreen(name) {
  const makeScreen = await SCREENS[name]();
  loaded.set(name, makeScreen);
  return makeScreen;
}
