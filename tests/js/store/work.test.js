// How much work the database has with what is done most: exact counts, the same on every machine.
import assert from "node:assert/strict";
import { test } from "node:test";

import { IDBIndex, IDBObjectStore } from "fake-indexeddb";

import { Phone } from "../phone/phone.js";
import { compileProgram } from "../phone/program.js";

const READS = ["get", "getAll", "getAllKeys", "getKey", "count", "openCursor"];
const WATCHED = [
  [IDBObjectStore, [...READS, "put", "add", "delete", "clear"]],
  [IDBIndex, [...READS, "openKeyCursor"]],
];
const RECORDS = 60;
const program = compileProgram();
const FIELDS = { kind: "inspection", inspector: "I1", batch: "B1", stage: "finished", photos: [],
  body: { answers: {}, verdicts: {}, crew: {}, disposition: { kind: "rework" } } };

/** {requests: ["store.method"], rows: {store: rows read}} of a work. */
async function watch(work) {
  const seen = { requests: [], rows: {} };
  const kept = [];
  const put = (type, name, make) => {
    const before = type.prototype[name];
    kept.push([type, name, before]);
    type.prototype[name] = make(before);
  };
  for (const [type, names] of WATCHED)
    for (const name of names) put(type, name, (before) => function (...args) {
      const store = (this.objectStore ?? this).name;
      seen.requests.push(`${store}.${name}`);
      const request = before.apply(this, args);
      request.addEventListener("success", () => {
        if (name === "getAll") seen.rows[store] = (seen.rows[store] ?? 0) + request.result.length;
      });
      return request;
    });
  await work();
  kept.forEach(([type, name, before]) => { type.prototype[name] = before; });
  return seen;
}

/** A phone whose batch is counted. */
async function filledPhone() {
  const phone = new Phone({ seed: 1, packs: true });
  phone.nowMs = Date.UTC(2026, 10, 25);
  const page = phone.pages[phone.openPage(program)];
  const { outbox, projection } = page.modules;
  for (let n = 0; n < RECORDS; n += 1) await outbox.record({ ...FIELDS, stove: `S${n}` });
  await projection.listStoves(["B1"]);
  return { page };
}

test("a further record is one transaction of five requests, none of which waits for another", async () => {
  const { page } = await filledPhone();
  page.stepsLeft = 1000;
  const { requests } = await watch(() => page.modules.outbox.record({ ...FIELDS, stove: "S99" }));
  assert.deepEqual(requests, ["meta.get", "meta.get", "meta.put", "events.add", "stale.put"]);
  // Its beginning and its end.
  assert.equal(1000 - page.stepsLeft, 2);
});

test("what a batch knows of its stoves is read without a record, in one transaction", async () => {
  const { page } = await filledPhone();
  page.stepsLeft = 1000;
  const { requests, rows } = await watch(() => page.modules.projection.listStoves(["B1"]));
  assert.deepEqual(requests, ["meta.get", "stale.count", "stoves.getAll"]);
  assert.deepEqual(rows, { stoves: RECORDS });
  assert.equal(1000 - page.stepsLeft, 2);
});

test("after a further record only its own stove's are read again", async () => {
  const { page } = await filledPhone();
  await page.modules.outbox.record({ ...FIELDS, stove: "S3" });
  const { rows } = await watch(() => page.modules.projection.listStoves(["B1"]));
  assert.equal(rows.events, 2);
});

test("how much waits is counted without reading a row", async () => {
  const { page } = await filledPhone();
  const { requests, rows } = await watch(() => page.modules.records.countUnsent());
  assert.deepEqual([requests, rows], [["events.count"], {}]);
});

test("the first screen's part of the reference is read without a checklist or a drawing", async () => {
  const { page } = await filledPhone();
  const { local_db } = page.modules;
  const known = { tag: "t", yard: { name: "Y" }, people: [], batches: [] };
  const checklists = [{ hash: "h", compiled: { id: "c" } }];
  const reference = { ...known, checklists, drawings: { a: "<svg/>" } };
  await local_db.saveReference(reference);
  const { requests } = await watch(() => local_db.readKnown());
  assert.equal(requests.filter((one) => one === "reference.get").length, 1);
  assert.deepEqual((await local_db.readKnown()).reference, known);
  assert.deepEqual(await local_db.readReference(), reference);
});
