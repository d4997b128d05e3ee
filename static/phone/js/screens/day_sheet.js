// What was found today on this phone: on the drawing, by its maker, and which stoves of the batch
// nobody has seen yet.
import {
  countByPart,
  countFaults,
  countMakers,
  seenSince,
  unseenRuns,
} from "../inspection/day.js";
import { splitKey, stoveKey } from "../inspection/event.js";
import { findChecklist } from "../store/local_db.js";
import { listStoves } from "../store/projection.js";
import { listMine } from "../store/records.js";
import { h } from "../ui/dom.js";
import { drawingCounts } from "../ui/drawing_counts.js";
import { joinLine, link, list, row } from "../ui/page.js";
import { localize, t } from "../ui/words.js";
import { faultWords } from "./answer_words.js";
import { doneKeysOf, readStoves } from "./stoves.js";

const MAX_PEOPLE = 3;
const MAX_RUNS = 6;

/**
 * Stoves with a record of this phone since midnight, by this phone's clock.
 * @param {App} app
 */
async function readDay(app) {
  const midnight = new Date(app.now());
  midnight.setHours(0, 0, 0, 0);
  const since = midnight.toISOString();
  const rows = await listMine(since);
  const keys = [...new Set(rows.flatMap(({ key }) => key ?? []))];
  return seenSince(await readStoves(keys), since);
}

/**
 * The checklists that records of the day were judged by.
 * @param {Seen[]} seen
 */
async function readChecklists(seen) {
  const hashes = [...new Set(seen.map(({ inspection }) => inspection.checklist_hash))];
  const found = await Promise.all(hashes.map(findChecklist));
  return new Map(hashes.map((hash, at) => [hash, found[at]]));
}

/**
 * "Door opening · too wide"; of several faults of one check the question itself.
 * @param {DayFault} found
 */
function whatWords({ compiled, check, faults }) {
  const part = localize(compiled.parts.find(({ id }) => id === check.part)?.title);
  const [fault] = faults;
  const words = faults.size === 1 && faultWords(check, fault);
  return joinLine([part, words || localize(check.ask)]);
}

/**
 * Where today's faults are, and what they are.
 * @param {App} app
 * @param {DayFault[]} faults
 */
function faultBlock(app, faults) {
  if (faults.length === 0) return null;
  const drawings = [...countByPart(faults)].map(([name, counts]) => {
    const source = app.drawingOf(name);
    return source && drawingCounts(source, counts);
  });
  const lines = faults.map((found) => {
    const count = t("today.on_stoves", { n: found.stoves.size });
    return h("li", null, h("b", null, count), " ", whatWords(found));
  });
  return h(
    "section",
    { id: "ui-found" },
    h("h2", null, t("today.found")),
    h("div", { class: "found" }, drawings, h("ul", { class: "plain-list" }, lines)),
  );
}

/**
 * Whom to see now, and about what.
 * @param {App} app
 * @param {MakerFault[]} makers
 */
function peopleBlock(app, makers) {
  if (makers.length === 0) return null;
  const names = [...new Set(makers.map(({ maker }) => maker))];
  const rows = names.slice(0, MAX_PEOPLE).map((name) => {
    const about = makers.filter(({ maker }) => maker === name).map((found) => {
      const params = { failed: found.stoves.size, n: found.seen.size, what: whatWords(found) };
      return h("small", null, t("today.about", params));
    });
    return row({ text: h("b", null, app.personName(name)), under: about });
  });
  const others = names.length - MAX_PEOPLE;
  return h(
    "section",
    { id: "ui-people" },
    h("h2", null, t("today.people")),
    list(rows),
    others > 0 && h("p", null, t("today.people_more", { n: others })),
    h("small", null, t("today.people_note")),
  );
}

/** @param {[string, string][]} runs */
function runWords(runs) {
  const shown = runs.slice(0, MAX_RUNS).map(([from, to]) => {
    if (from === to) return from;
    return t("today.range", { from, to });
  });
  return shown.join(", ") + (runs.length > MAX_RUNS ? " …" : "");
}

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
  return h("p", null, t(left.length ? "today.sample" : "today.sample_done", params));
}

/**
 * How far the batch is at each stage, and which of its stoves nobody has seen.
 * @param {App} app
 * @param {Batch} batch
 * @param {string[]} keys of stoves that an inspection counts of
 */
function batchBlock(app, batch, keys) {
  const checklists = app.checklistsOf(batch);
  const key = checklists.length === 1 ? "today.done" : "today.stage_done";
  const stages = checklists.map(({ compiled }) => {
    const here = keys.map(splitKey).filter(({ stage }) => stage === compiled.stage);
    const params = { done: here.length, n: batch.planned, title: localize(compiled.title) };
    const seen = here.map(({ stove }) => stove);
    const runs = unseenRuns(batch, seen);
    const left = runs?.length ? t("today.unseen", { left: runWords(runs) }) : "";
    return h("span", null, h("b", null, t(key, params)), h("small", null, left));
  });
  return [
    link("#/find", h("span", { class: "row-text" }, stages)),
    sampleLine(batch, keys),
  ];
}

/**
 * The day counted: stoves done on this phone, those in rework or held of the open batches, and the
 * blocks that show what was found.
 * @param {App} app
 */
export async function countDay(app) {
  await app.loadDefinitions();
  const batch = app.batch(app.batchCode());
  const [seen, stoves] = await Promise.all([
    readDay(app),
    listStoves(app.openBatches().map(({ code }) => code)),
  ]);
  const keys = doneKeysOf(stoves.filter((one) => one.batch === batch?.code));
  const checklists = await readChecklists(seen);
  const find = (/** @type {string} */ hash) => checklists.get(hash);
  const found = [
    ...(batch ? batchBlock(app, batch, keys) : []),
    faultBlock(app, countFaults(seen, find)),
    peopleBlock(app, countMakers(seen, find)),
  ];
  return {
    done: new Set(seen.map(({ key }) => key)).size,
    mend: stoves.filter(({ waits }) => waits).length,
    found: /** @type {Child[]} */ (found.filter(Boolean)),
  };
}
