// What a batch knows of its stoves, beside the same asked of every record anew.
import assert from "node:assert/strict";
import { test } from "node:test";

import { foldStove } from "../../../static/phone/js/inspection/stove.js";
import { projectStove } from "../../../static/phone/js/store/projection.js";
import { compareRows, mayCount } from "../../../static/phone/js/store/records.js";
import { Phone } from "../phone/phone.js";
import { compileProgram } from "../phone/program.js";

const BATCHES = ["B1", "B2"];
const KINDS = ["release", "rework", "hold", "scrap", "concession"];
// So few records are kept here that old ones are deleted in a short run, and so few folded at a time
// that there are several parts.
const program = compileProgram({
  acknowledge: [["const KEPT_RECORDS = 5000;", "const KEPT_RECORDS = 12;"]],
  projection: [["const PART = 200;", "const PART = 5;"]],
});
// A transaction without room, so many in a row: the last is one after which only a deletion helps.
const FULL_FOR = [1, 2, 4, 9];

/** Numbers from 0 to below n, the same for the same seed (Park and Miller 1988). */
function makeChance(seed) {
  let state = seed * 7919 + 1;
  return (n) => {
    state = (state * 48271) % 2147483647;
    return state % n;
  };
}

/** Stove by stove, from all rows there are. */
function countAnew(rows) {
  const keys = [...new Set(rows.filter(({ event }) => event.stove).flatMap(({ key }) => key ?? []))];
  return BATCHES.flatMap((batch) => keys.sort().flatMap((key) => {
    const own = rows.filter((row) => row.key === key && mayCount(row)).sort(compareRows);
    const { inspections, disposition } = foldStove(own.map(({ event }) => event));
    const isKnown = [...own.map(({ event }) => event), ...inspections].some((one) => one.batch === batch);
    const last = inspections.at(-1);
    const waits = ["rework", "hold"].includes(disposition) && last?.batch === batch;
    const is_done = inspections.some((one) => one.batch === batch);
    return isKnown ? [{ batch, key, is_done, waits }] : [];
  }));
}

/** An inspection of a stove of B1, without what sealing adds. */
const inspectionOf = (stove, chance) => ({
  kind: "inspection", batch: "B1", stage: "finished", stove, photos: [], body: bodyOf(chance),
});
const bodyOf = (chance) => ({ answers: {}, verdicts: {}, crew: {}, disposition: { kind: KINDS[chance(5)] } });

/** What a thumb or another phone may make of a stove: its inspection, or a change of an earlier one. */
function makeFields(chance, rows) {
  const stove = `S${chance(15)}`;
  const at = { inspector: "I1", batch: BATCHES[chance(2)], stage: "finished", stove, photos: [] };
  const earlier = rows.filter(({ event }) => event.stove === stove && event.kind !== "void");
  const corrects = earlier[chance(earlier.length || 1)]?.id;
  const kind = corrects ? ["inspection", "correction", "void", "inspection"][chance(4)] : "inspection";
  if (kind === "void") return { ...at, kind, corrects, body: {} };
  if (kind === "correction") return { ...at, kind, corrects, body: { replacement: bodyOf(chance) } };
  return { ...at, kind, body: bodyOf(chance) };
}

class Run {
  constructor(seed) {
    this.chance = makeChance(seed);
    this.phone = new Phone({ seed, packs: true });
    this.phone.nowMs = Date.UTC(2026, 10, 25);
    this.page = this.phone.pages[this.phone.openPage(program)];
    this.count = 0;
  }

  async start() {
    await this.page.modules.db.openDb();
    return this;
  }

  async rows() {
    return (await this.phone.readAll(["events"])).events.map(([, row]) => row);
  }

  foreign(fields, device) {
    this.count += 1;
    const id = `other-${String(this.count).padStart(4, "0")}`;
    const captured_at = new Date(this.phone.nowMs - this.chance(9) * 864e5).toISOString();
    const numbers = { device_id: device, dev_seq: this.count, captured_at };
    return { corrects: null, checklist_hash: "0", ...fields, id, ...numbers, hash: id };
  }

  async step() {
    const { chance, page, phone } = this;
    phone.nowMs += 1000 * chance(100);
    const { outbox, acknowledge, lineage, projection, waiting } = page.modules;
    const rows = await this.rows();
    const meta = new Map((await phone.readAll(["meta"])).meta);
    const have = meta.get("have") ?? null;
    const steps = [
      () => outbox.record(makeFields(chance, rows)),
      () => outbox.record(makeFields(chance, rows)),
      () => outbox.takeRelayed([{ event: this.foreign(makeFields(chance, rows), "relayed") }]),
      () => {
        const offered = rows.filter((row) => waiting.isWaiting(row)).slice(0, 1 + chance(4));
        const outcomes = ["created", "duplicate", "quarantined", "retry"];
        const results = offered.map(({ id }) => ({ id, outcome: outcomes[chance(4)] }));
        this.count += 1;
        const asked = { ids: new Set(offered.map(({ id }) => id)), have };
        return acknowledge.acknowledge(results, asked, { seq: this.count, chain: "c" });
      },
      () => {
        const states = ["counted", "quarantined"];
        const pull = () => {
          const { count: seq } = this;
          const state = states[chance(2)];
          return { seq, state, event: this.foreign(makeFields(chance, rows), "other") };
        };
        const pulled = [pull(), pull()];
        return acknowledge.mergePulled(pulled, `c${this.count}`, { have, cursor: meta.get("cursor") ?? "" });
      },
      () => chance(8) === 0 && lineage.forgetAcknowledgements(chance(2) ? "another" : undefined),
      () => projection.listStoves(BATCHES),
      () => acknowledge.pruneRecords(phone.nowMs + 200 * 864e5),
    ];
    if (chance(12) === 0) page.fullFor = FULL_FOR[chance(4)];
    await steps[chance(steps.length)]?.().catch?.((error) => assert.equal(error.name, "QuotaExceededError"));
    page.fullFor = 0;
  }
}

test("after records, answers, pulls and losses in any order a batch knows its stoves", async () => {
  let checked = 0;
  for (let seed = 1; seed <= 30; seed += 1) {
    const run = await new Run(seed).start();
    for (let step = 0; step < 30; step += 1) await run.step();
    const found = await run.page.modules.projection.listStoves(BATCHES);
    assert.deepEqual(found, countAnew(await run.rows()), `seed ${seed}`);
    checked += found.length;
  }
  assert.ok(checked > 200, "too few stoves to say anything");
});

test("on a phone too full to keep it the same is told", async () => {
  const run = await new Run(3).start();
  for (let step = 0; step < 30; step += 1) await run.step();
  await run.page.modules.outbox.record(makeFields(run.chance, []));
  run.page.fullFor = 99;
  const found = await run.page.modules.projection.listStoves(BATCHES);
  assert.ok(run.page.fullFor < 99, "nothing was tried to be kept");
  assert.deepEqual(found, countAnew(await run.rows()));
});

test("what a full phone can only delete is no longer known of its batch", async () => {
  const seen = [];
  for (let fullFor = 1; fullFor <= 12; fullFor += 1) {
    const run = await new Run(fullFor).start();
    const { outbox, acknowledge, projection } = run.page.modules;
    const { id } = await outbox.record(makeFields(run.chance, []));
    assert.equal((await projection.listStoves(BATCHES)).length, 1);
    run.page.fullFor = fullFor;
    const asked = { ids: new Set([id]), have: null };
    const results = [{ id, outcome: "created" }];
    await acknowledge.acknowledge(results, asked, { seq: 1, chain: "c" }).catch(() => {});
    run.page.fullFor = 0;
    const rows = await run.rows();
    seen.push(rows.length);
    assert.deepEqual(await projection.listStoves(BATCHES), countAnew(rows), `full for ${fullFor}`);
  }
  assert.ok(seen.includes(0), "no phone was so full that the row had to go");
});

test("a full phone still deletes what the server has had for long", async () => {
  const run = await new Run(2).start();
  const { outbox, acknowledge, projection } = run.page.modules;
  for (let n = 0; n < 14; n += 1) await outbox.record({ ...makeFields(run.chance, []), stove: `D${n}` });
  const ids = (await run.rows()).map(({ id }) => id);
  const results = ids.map((id) => ({ id, outcome: "created" }));
  await acknowledge.acknowledge(results, { ids: new Set(ids), have: null }, { seq: 1, chain: "c" });
  await projection.listStoves(BATCHES);
  run.page.fullFor = 1;
  await acknowledge.pruneRecords(run.phone.nowMs + 200 * 864e5);
  assert.equal((await run.rows()).length, 12);
  assert.deepEqual(await projection.listStoves(BATCHES), countAnew(await run.rows()));
});

test("what another version of the app has folded is folded anew", async () => {
  const run = await new Run(5).start();
  const { outbox, projection } = run.page.modules;
  for (let n = 0; n < 9; n += 1) await outbox.record(makeFields(run.chance, []));
  const found = await projection.listStoves(BATCHES);
  const stores = await run.phone.openStores("readwrite", ["stoves", "meta"]);
  for (const row of found) stores.stoves.put({ ...row, is_done: !row.is_done });
  stores.meta.put({ is_whole: true, build: "older" }, "projected");
  assert.deepEqual(await projection.listStoves(BATCHES), found);
});

test("more rows of a stove than are read at a time, and more stoves than that, are folded", async () => {
  const run = await new Run(1).start();
  const { page, chance } = run;
  const events = ["A", "B", ...Array(12).fill("M"), ...Array.from({ length: 12 }, (_, n) => `N${n}`)];
  const seal = (stove) => ({ event: run.foreign(inspectionOf(stove, chance), "relayed") });
  const sealed = events.map(seal);
  await page.modules.outbox.takeRelayed(sealed);
  const { events: kept } = await run.phone.readAll(["events"]);
  const sent = kept.map(([id, row]) => [id, { ...row, outcome: "created" }]);
  await run.phone.writeAll({ events: sent });
  // As a database that was never projected: nothing says what changed.
  const stores = await run.phone.openStores("readwrite", ["stale"]);
  stores.stale.clear();
  const found = await page.modules.projection.listStoves(["B1"]);
  assert.equal(found.length, 15);
  assert.deepEqual(found, countAnew(await run.rows()));
});

test("a record that this version cannot read whole keeps nobody from the list", () => {
  const event = {
    id: "e", kind: "inspection", batch: "B1", stove: "S1", captured_at: "2026", device_id: "d",
    dev_seq: 1, photos: [],
  };
  const key = "finished/S1";
  const rows = [{ id: "e", key, origin: "own", state: "sent", event }];
  const projected = [{ batch: "B1", key, is_done: true, waits: false }];
  assert.deepEqual(projectStove(key, rows), projected);
});

test("a body pulled in the place of another one that was of another stove marks both stoves", async () => {
  const run = await new Run(1).start();
  const { page, chance } = run;
  const pull = async (stove, cursor, asked) => {
    const event = { ...run.foreign(inspectionOf(stove, chance), "other"), id: "same" };
    const pulled = [{ seq: 1, state: "counted", event }];
    await page.modules.acknowledge.mergePulled(pulled, cursor, { have: null, cursor: asked });
    return (await page.modules.projection.listStoves(["B1"])).map(({ key }) => key);
  };
  assert.deepEqual(await pull("A", "c1", ""), ["finished/A"]);
  assert.deepEqual(await pull("B", "c2", "c1"), ["finished/B"]);
});
