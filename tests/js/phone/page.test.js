import assert from "node:assert/strict";
import { test } from "node:test";

import { Phone } from "./phone.js";
import { compileProgram } from "./program.js";

const FIELDS = { kind: "inspection", inspector: "I1", stage: "finished", stove: "S1", body: {} };
const MANY = 1000;
const program = compileProgram();

async function startPhone() {
  const phone = new Phone({ seed: 1, packs: true });
  phone.nowMs = Date.UTC(2026, 10, 25);
  const page = phone.pages[phone.openPage(program)];
  await page.begin(() => page.modules.db.openDb());
  return { phone, page };
}

const record = (page) => page.begin(() => page.modules.outbox.record(FIELDS));

/** What the database holds after a record whose page dies at that step: its number, its rows. */
async function killAt(step) {
  const { phone, page } = await startPhone();
  page.stepsLeft = step;
  const stop = await record(page);
  const { meta, events } = await phone.readAll();
  return { stop, number: new Map(meta).get("dev_seq") ?? 0, rows: events.length };
}

test("a page killed at any step has kept the whole record or nothing of it", async () => {
  const seen = new Set();
  for (let step = 1; step <= 12; step += 1) {
    const { stop, number, rows } = await killAt(step);
    assert.equal(number, rows);
    seen.add(`${stop.killed ? "killed" : "saved"} ${rows}`);
  }
  assert.deepEqual([...seen], ["killed 0", "killed 1", "saved 1"]);
});

test("a phone without room keeps nothing of a record, and the page goes on", async () => {
  const { phone, page } = await startPhone();
  page.fullFor = 99;
  const stop = await record(page);
  assert.equal(stop.error.name, "QuotaExceededError");
  assert.deepEqual((await phone.readAll()).events, []);
  page.fullFor = 0;
  assert.equal((await record(page)).value.dev_seq, 1);
});

test("a record finds room after what is least missed was given up", async () => {
  const { page } = await startPhone();
  assert.equal((await record(page)).value.dev_seq, 1);
  page.fullFor = 1;
  assert.equal((await record(page)).value.dev_seq, 2);
});

test("a page killed while a transaction that it gave up is ending dies in silence", async () => {
  const { page } = await startPhone();
  const refuse = () => { throw new Error("does not fit"); };
  page.modules.db.withStores(["meta"], "readwrite", refuse).catch(() => {});
  await Promise.resolve().then(() => {}).then(() => {});
  assert.equal(page.transactions.size, 1);
  page.die();
  // Closing all pages of a phone closes this one once more, perhaps before it was told.
  page.die();
});

test("two pages of a phone share the database and nothing else", async () => {
  const { phone, page } = await startPhone();
  const other = phone.pages[phone.openPage(program)];
  assert.notEqual(page.modules.changes.changes, other.modules.changes.changes);
  assert.equal((await record(page)).value.dev_seq, 1);
  assert.equal((await record(other)).value.dev_seq, 2);
});

test("a call stands until it is answered, and may come back too late", async () => {
  const { page } = await startPhone();
  const { call } = await page.begin(() => page.modules.enrol.enrol("ABCD2345"));
  assert.equal(call.path, "/api/devices/enrol");
  const stop = await page.hear(call.id, "timed out");
  assert.equal(stop.error.text_key, "sync.not-connected");
});

test("the same seed gives the same ids", async () => {
  const made = await Promise.all([startPhone(), startPhone()]);
  const [one, other] = await Promise.all(made.map(({ page }) => record(page)));
  assert.equal(one.value.hash, other.value.hash);
});

test("a change to the source must find its place once", () => {
  const changed = (before) => () => compileProgram({ outbox: [[before, ""]] })({});
  assert.throws(changed("not there"), /there 0 times/);
  assert.throws(changed("return"), /there \d+ times/);
});

test("a further record opens one transaction, whatever another page did meanwhile", async () => {
  const { phone, page } = await startPhone();
  const other = phone.pages[phone.openPage(program)];
  const count = async (from) => {
    from.stepsLeft = MANY;
    const { value } = await record(from);
    // Its beginning and its end are a step each.
    return [value.dev_seq, (MANY - from.stepsLeft) / 2];
  };
  await record(page);
  assert.deepEqual(await count(page), [2, 1]);
  assert.equal((await record(other)).value.dev_seq, 3);
  // The first try finds the number taken and is thrown away, a beginning without an end; then it is
  // read and tried again.
  assert.deepEqual(await count(page), [4, 2.5]);
  assert.deepEqual(await count(page), [5, 1]);
});
