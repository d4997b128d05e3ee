// First pieces of today: which are still to check, by step and maker, before more are made.
import { firstPieceKey, listFirstPieces, newFirstPiece, standOf } from "../inspection/first_piece.js";
import { listEventsOf } from "../store/records.js";
import { h } from "../ui/dom.js";
import { disclosure, list, page, row } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { localize, t } from "../ui/words.js";

/** How each shows: its mark and its words. */
const STANDS = /** @type {const} */ ({
  open: ["missing", "first.open"],
  stop: ["fail", "first.stop"],
  good: ["pass", "first.good"],
});

/**
 * Each with how it stands today by this phone's records and those it has pulled.
 * @param {App} app
 * @param {FirstPieceTask[]} tasks
 * @returns {Promise<(FirstPieceTask & {stand: FirstPieceStand})[]>}
 */
async function withStand(app, tasks) {
  const records = await listEventsOf(tasks.map(({ step }) => firstPieceKey(step.id)));
  return tasks.map((task, at) => {
    const events = records[at].map(({ event }) => event);
    return { ...task, stand: standOf(task, events, app.now()) };
  });
}

/** @param {App} app */
const openBatches = (app) =>
  app.openBatches().map((batch) => ({ batch, checklists: app.checklistsOf(batch) }));

/** Of the crews of the open batches. @param {App} app */
export async function listToday(app) {
  await app.loadDefinitions();
  return withStand(app, listFirstPieces(openBatches(app)));
}

/**
 * A line that begins the check of one.
 * @param {App} app
 * @param {FirstPieceTask & {stand: FirstPieceStand}} task
 */
export function firstPieceRow(app, task) {
  const { step, maker, stand } = task;
  const title = localize(step.title);
  const [verdict, words] = STANDS[stand];
  const by = { inspector: app.inspector, started_at: app.now(), title };
  return row({
    mark: shape(verdict),
    text: h("b", null, title),
    under: [app.personName(maker), " · ", t(words)],
    onclick: () => app.start(newFirstPiece(task, stand, by)),
  });
}

/**
 * The same steps by everybody else of the trade.
 * @param {App} app
 * @param {FirstPieceTask[]} tasks
 */
function othersOf({ reference: { people } }, tasks) {
  const isListed = (/** @type {Step} */ step, /** @type {string} */ maker) =>
    tasks.some((task) => task.step.id === step.id && task.maker === maker);
  const steps = [...new Map(tasks.map((task) => [task.step.id, task])).values()];
  return steps.flatMap((task) =>
    people
      .filter(({ code, trades }) => trades.includes(task.step.trade) && !isListed(task.step, code))
      .map(({ code }) => ({ ...task, maker: code })),
  );
}

/** @param {App} app */
export async function firstScreen(app) {
  const tasks = await listToday(app);
  const others = await withStand(app, othersOf(app, tasks));
  const rows = (/** @type {typeof tasks} */ some) => list(some.map((one) => firstPieceRow(app, one)));
  return page(
    { title: t("first.title"), back: "#/today" },
    h("p", null, t("first.how")),
    rows(tasks),
    others.length > 0 && disclosure("first.others", rows(others)),
  );
}
