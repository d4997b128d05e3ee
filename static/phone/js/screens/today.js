// The day sheet: what is done, to mend and to send, the stove in hand, and the next one. What was
// found today, and everything else, is loaded when this shows.
import { setMeta } from "../store/local_db.js";
import { h } from "../ui/dom.js";
import { button, link, note, page } from "../ui/page.js";
import { formatDay, formatNumber, t } from "../ui/words.js";

const MB = 1_000_000;
const MANY_PHOTOS = 20;
const CALM = ["sync.sent", "sync.nothing", "sync.busy"];
// Without signal these are the rule and pass by themselves: said only to a thumb that asked.
const USUAL = ["sync.not-connected", "sync.wait", "sync.left"];

/** Whether everything else shows; it stays open while what was sent paints the screen again. */
let isRestOpen = false;

/**
 * What was counted last, which shows until it is counted anew.
 * @type {{name?: string, done?: number, mend?: number, found?: Child[]}}
 */
let day = {};

/** @type {Promise<void>} */
let counting = Promise.resolve();

/** Resolves when what shows has been counted, or could not be. */
export const dayCounted = () => counting.catch(() => {});

/**
 * Why it was not sent, where a person must know; null when it passes by itself.
 * @param {App} app
 * @param {SyncStatus} now
 */
function errorLine(app, { last_result }) {
  const key = last_result?.text_key;
  if (!key || CALM.includes(key) || (!app.sent && USUAL.includes(key))) return null;
  const again = key === "sync.pair-again" && link("#/join", t("join.title"));
  return h("p", null, t(key), again);
}

/**
 * The server's log is not shown to be the one that this phone saw: said until somebody was told.
 * @param {App} app
 * @param {SyncStatus} now
 */
function doubtLine(app, { log_doubt }) {
  if (!log_doubt || log_doubt.is_seen) return null;
  const told = async () => {
    await setMeta("log_doubt", { ...log_doubt, is_seen: true });
    return app.refresh();
  };
  return h(
    "div",
    { class: "note", role: "alert", id: "ui-doubt" },
    h("p", null, t("today.log_doubt", { day: formatDay(log_doubt.seen_at) })),
    button("today.log_told", "plain wide", told),
  );
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
 * A large figure over its word; a link to what it counts, a button where something can be done
 * about it, else neither.
 * @param {"done" | "mend" | "send"} name
 * @param {number | undefined} n not known yet without it
 * @param {"a" | "button" | "div"} tag
 * @param {Attributes} attrs
 * @param {Child} [more]
 */
function figure(name, n, tag, attrs, more) {
  const shown = h("b", null, n === undefined ? "·" : formatNumber(n));
  const words = h("span", null, t(`today.figure_${name}`, { n }));
  const all = { id: `ui-figure-${name}`, class: `tile for-${name}`, "data-n": n, ...attrs };
  return h("li", null, h(tag, all, shown, words, more));
}

/**
 * @param {App} app
 * @param {SyncStatus} now
 */
function figures(app, now) {
  const { unsent, relayed } = now;
  const n = unsent + relayed;
  const send = async () => {
    const { syncNow } = await import("../sync/sync.js");
    return app.refresh({ sent: await syncNow() });
  };
  const own = { "data-unsent": String(unsent) };
  const sending = { ...own, id: "ui-send", type: "button", onclick: send };
  return h(
    "ul",
    { class: "figures" },
    figure("done", day.done, "a", { href: "#/mine" }),
    figure("mend", day.mend, "a", { href: "#/rework" }),
    n > 0
      ? figure("send", n, "button", sending, h("u", null, t("today.send")))
      : figure("send", n, "div", own),
  );
}

/**
 * What else the server does not have yet, and why.
 * @param {App} app
 * @param {SyncStatus} now
 */
const sendLines = (app, now) => [
  now.relayed > 0 && h("p", null, t("today.relayed", { n: now.relayed })),
  photosLine(now),
  errorLine(app, now),
];

/**
 * @param {App} app
 * @param {Draft} draft
 */
function inHand(app, draft) {
  const key = draft.kind === "correction" ? "today.resume_correction" : "today.resume";
  const onclick = () => app.resume(draft);
  return button(key, "plain wide in-hand", onclick, { stove: draft.stove });
}

/**
 * A phone of the buyer's inspector has no batch of the yard's, only one to check again.
 * @param {App} app
 */
const isBuyers = ({ reference: { studies = [] } }) =>
  studies.some(({ id }) => id.startsWith("recheck:"));

/**
 * The batch that is inspected now; a choice where several are open.
 * @param {App} app
 * @param {Batch[]} batches
 */
function batchChoice(app, batches) {
  const chosen = app.batchCode();
  const options = batches.map(({ code, title }) =>
    h("option", { value: code, selected: code === chosen }, title ?? code),
  );
  if (options.length < 2) return h("h2", null, batches[0]?.title ?? batches[0]?.code);
  const select = h("select", { id: "ui-batch" }, options);
  select.addEventListener("change", () => app.chooseBatch(select.value));
  return h("label", { class: "side" }, t("today.batch"), select);
}

/**
 * What was found today: counted after the screen shows, because with many records it takes a while.
 * @param {App} app
 */
function foundToday(app) {
  const name = [app.inspector, app.batchCode(), app.now().slice(0, 10)].join();
  if (day.name !== name) day = { name };
  const place = h("div", { class: "day" }, day.found);
  counting = import("./day_sheet.js")
    .then(({ countDay }) => countDay(app))
    .then((counted) => {
      if (day.name === name) day = { name, ...counted };
      if (!place.isConnected) return;
      place.replaceChildren(.../** @type {Node[]} */ (counted.found));
      for (const figure of /** @type {const} */ (["done", "mend"])) {
        const tile = document.getElementById(`ui-figure-${figure}`);
        tile?.setAttribute("data-n", String(counted[figure]));
        tile?.firstElementChild?.replaceChildren(formatNumber(counted[figure]));
        tile?.children[1].replaceChildren(t(`today.figure_${figure}`, { n: counted[figure] }));
      }
    });
  return place;
}

/**
 * Everything else, behind one line.
 * @param {App} app
 * @param {SyncStatus} now
 */
function restOf(app, now) {
  // Whoever comes from another screen finds it closed.
  if (!document.getElementById("ui-rest")) isRestOpen = false;
  const place = h("div", null);
  const fill = async () => {
    const { restLines } = await import("./today_rest.js");
    place.replaceChildren(.../** @type {Node[]} */ (restLines(app, now)));
  };
  const rest = h(
    "details",
    { id: "ui-rest", class: "rest", open: isRestOpen },
    h("summary", null, t("today.rest")),
    place,
  );
  rest.addEventListener("toggle", () => {
    isRestOpen = rest.open;
    if (isRestOpen) fill();
  });
  return rest;
}

/** What is to do today beside the stoves. @param {App} app */
function tasks(app) {
  const place = h("div", null);
  import("./day_tasks.js")
    .then(({ listTasks }) => listTasks(app))
    .then((lines) => place.replaceChildren(...lines));
  return place;
}

/** @param {App} app */
export async function todayScreen(app) {
  app.search = "";
  const batches = app.openBatches();
  const [drafts, now] = await Promise.all([app.listPaused(), app.status()]);
  const next = { id: "ui-next", disabled: batches.length === 0 };
  const name = h("b", null, app.personName(app.inspector));
  const label = h("small", null, t("today.inspector"));
  const inspector = h("a", { class: "whoami", href: "#/who" }, label, " ", name);
  const actions = [
    h("a", { id: "ui-find", class: "plain", href: "#/find" }, t("today.find")),
    button("today.next", "go", () => app.go("#/next"), {}, next),
  ];
  return page(
    { title: app.reference.yard.name, beside: inspector, className: "today", actions },
    app.hasUpdate && button("today.update", "plain wide", app.switchVersion),
    doubtLine(app, now),
    drafts.map((draft) => inHand(app, draft)),
    figures(app, now),
    sendLines(app, now),
    batches.length > 0 && batchChoice(app, batches),
    batches.length === 0 && note(t(isBuyers(app) ? "today.recheck" : "today.no_batch")),
    foundToday(app),
    tasks(app),
    restOf(app, now),
  );
}
