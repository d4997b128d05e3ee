// A phone of an older version, with work that the server has not seen, opened by the newer one.
import assert from "node:assert/strict";
import { test } from "node:test";

import { IDBDatabase, IDBObjectStore } from "fake-indexeddb";

import { Phone } from "../phone/phone.js";
import { compileProgram } from "../phone/program.js";
import { openVersion1, readStores } from "./version_1.js";

const DEVICE = "01890000-0000-7000-8000-000000000001";
const FIELDS = { kind: "inspection", inspector: "I1", batch: "B1", stage: "finished", stove: "S41",
  body: { answers: {}, verdicts: {}, crew: {}, disposition: { kind: "hold" } } };
const program = compileProgram();

/** A phone with a version-1 database, and what is in it. */
async function oldPhone() {
  const phone = new Phone({ seed: 1, packs: true });
  phone.nowMs = Date.UTC(2026, 10, 26);
  const db = await openVersion1(phone.databases, DEVICE);
  return { phone, db, before: await readStores(db) };
}

const newPage = (phone) => phone.pages[phone.openPage(program)];

async function assertNothingLost(page, before) {
  const { db, records, outbox, projection } = page.modules;
  const opened = await db.openDb();
  assert.equal(opened.version, 2);
  assert.deepEqual(await readStores(opened), before);
  assert.equal((await records.listUnsent()).length, 20);
  assert.equal(await records.countUnsent(), 20);
  const stoves = await projection.listStoves(["B1"]);
  assert.equal(stoves.filter(({ is_done }) => is_done).length, 40);
  assert.deepEqual(stoves.filter(({ waits }) => waits).map(({ key }) => key),
    [10, 15, 20, 25, 30, 35, 40, 5].map((n) => `finished/S${n}`));
  assert.equal((await outbox.record(FIELDS)).dev_seq, 41);
  assert.equal(await records.countUnsent(), 21);
  assert.equal((await projection.listStoves(["B1"])).filter(({ waits }) => waits).length, 9);
}

test("a version-1 database is opened whole, counted, and takes the next number", async () => {
  const { phone, db, before } = await oldPhone();
  db.close();
  await assertNothingLost(newPage(phone), before);
});

test("the reference that version 1 kept whole is parted once it was read", async () => {
  const { phone, db } = await oldPhone();
  db.close();
  const { local_db } = newPage(phone).modules;
  const { reference } = await local_db.readKnown();
  assert.deepEqual(reference, { tag: "t1", yard: { name: "Y" }, people: [], batches: [] });
  assert.deepEqual((await local_db.readReference()).drawings, { a: "<svg/>" });
  const kept = new Map((await phone.readAll(["reference"])).reference);
  assert.deepEqual(kept.get("home"), reference);
  assert.deepEqual(kept.get("current").drawings, { a: "<svg/>" });
});

test("an upgrade killed at any of its steps leaves version 1 as it was, and is made next time", async () => {
  const seen = [];
  for (let step = 1; step <= 6; step += 1) {
    const { phone, db, before } = await oldPhone();
    db.close();
    seen.push(await killUpgrade(phone, step));
    const again = await reopen(phone);
    assert.deepEqual(await readStores(again), before);
    again.close();
    await assertNothingLost(newPage(phone), before);
  }
  // It makes five changes; the sixth kill comes too late.
  assert.deepEqual(seen, [1, 1, 1, 1, 1, 2]);
});

const CHANGES = [
  [IDBDatabase, "createObjectStore"],
  [IDBObjectStore, "createIndex"],
  [IDBObjectStore, "deleteIndex"],
];

/** Opens as the app does, and ends the upgrade at that change of the stores; the version then. */
async function killUpgrade(phone, step) {
  let left = step;
  const kept = CHANGES.map(([type, name]) => type.prototype[name]);
  CHANGES.forEach(([type, name], at) => {
    type.prototype[name] = function (...args) {
      const made = kept[at].apply(this, args);
      left -= 1;
      if (left === 0) (made?.transaction ?? this.transaction).abort();
      return made;
    };
  });
  const page = newPage(phone);
  await page.begin(() => page.modules.db.openDb());
  CHANGES.forEach(([type, name], at) => { type.prototype[name] = kept[at]; });
  if (left > 0) (await page.modules.db.openDb()).close();
  const [{ version }] = await phone.databases.databases();
  return version;
}

function reopen(phone) {
  return new Promise((resolve, reject) => {
    const request = phone.databases.open("qcapp");
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

test("while another tab holds version 1 open the app says so, and goes on when it is closed", async () => {
  const { phone, db, before } = await oldPhone();
  const page = newPage(phone);
  let error;
  const opening = page.modules.db.openDb().catch((thrown) => { error = thrown; });
  // The two tries of the time limit, which passes only when a test says so.
  for (let tries = 0; tries < 2; tries += 1) {
    await new Promise((resolve) => setTimeout(resolve, 20));
    page.lastTimer();
  }
  await opening;
  assert.equal(error?.name, "TimeoutError");
  assert.deepEqual(await readStores(db), before);
  db.close();
  await assertNothingLost(page, before);
});

test("a page of the older version that is told closes its door, and its records are there", async () => {
  const { phone, db, before } = await oldPhone();
  db.onversionchange = () => db.close();
  await assertNothingLost(newPage(phone), before);
});
