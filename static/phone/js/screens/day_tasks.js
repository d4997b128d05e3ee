// What is to do today beside the stoves: first pieces, templates and gauges that are due, looks of a
// study.
import { h } from "../ui/dom.js";
import { link, list } from "../ui/page.js";
import { formatNumber, t } from "../ui/words.js";
import { firstPieceRow, listToday } from "./first.js";
import { listGauges } from "./gauge_state.js";
import { listStudies } from "./studies.js";

const MAX_ROWS = 4;

/** Those to set right before those that nobody has checked; a good one is done. @param {App} app */
async function firstPieceLines(app) {
  const all = await listToday(app);
  const of = (/** @type {FirstPieceStand} */ stand) => all.filter((task) => task.stand === stand);
  const left = [...of("stop"), ...of("open")];
  const rows = left.slice(0, MAX_ROWS).map((task) => firstPieceRow(app, task));
  const n = left.length - rows.length;
  return [
    rows.length > 0 && h("h2", null, t("first.title")),
    rows.length > 0 && list(rows, { id: "ui-first" }),
    n > 0 && link("#/first", t("first.more", { n })),
  ].filter((one) => one !== false);
}

/** Looks that are still to make. @param {App} app */
async function studyLines(app) {
  const open = (await listStudies(app)).filter(({ left }) => left.length > 0);
  return open.map(({ id, title, left }) =>
    link(`#/study/${id}`, title, h("b", null, formatNumber(left.length))),
  );
}

/** @param {App} app */
async function gaugeLines(app) {
  const n = (await listGauges(app)).filter(({ isDue }) => isDue).length;
  return n > 0 ? [link("#/gauges", t("gauge.due", { n }))] : [];
}

/** @param {App} app */
export async function listTasks(app) {
  return (await Promise.all([firstPieceLines(app), gaugeLines(app), studyLines(app)])).flat();
}
