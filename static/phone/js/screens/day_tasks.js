// What is to do today beside the stoves: looks of a study, templates and gauges that are due.
import { h } from "../ui/dom.js";
import { link } from "../ui/page.js";
import { formatNumber, t } from "../ui/words.js";
import { listGauges } from "./gauge_state.js";
import { listStudies } from "./studies.js";

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
  return (await Promise.all([gaugeLines(app), studyLines(app)])).flat();
}
