import assert from "node:assert/strict";
import { test } from "node:test";

import { Phone } from "./phone.js";
import { compileProgram } from "./program.js";

const FIELDS = { kind: "inspection", inspector: "I1", stage: "finished", stove: "S1", body: {} };
const program = compileProgram();

async function startPhone(notes = {}) {
  const phone = new Phone({ seed: 1, packs: false, notes });
  phone.nowMs = Date.UTC(2026, 10, 25);
  const page = phone.pages[phone.openPage(program)];
  await page.begin(() => page.modules.db.openDb());
  return { phone, page };
}

const readMeta = async (phone) => new Map((await phone.readAll(["meta"])).meta);
const readBody = ({ base64 }) => JSON.parse(Buffer.from(base64, "base64").toString());

/** What the phone says when it joins. */
async function enrol(page) {
  const { call } = await page.begin(() => page.modules.enrol.enrol("23456789"));
  return readBody(call);
}

test("a phone makes its key at joining, once, and the browser gives it to nobody", async () => {
  const { phone, page } = await startPhone();
  const said = await enrol(page);
  const kept = (await readMeta(phone)).get("signing_key");
  assert.match(said.key, /^B[\w-]{86}$/);
  assert.equal(kept.public_key, said.key);
  assert.equal(kept.private_key.extractable, false);
  await assert.rejects(crypto.subtle.exportKey("pkcs8", kept.private_key));
  const other = phone.pages[phone.openPage(program)];
  assert.equal((await enrol(other)).key, said.key);
});

test("two tabs that make a key at the same moment keep one", async () => {
  const { phone, page } = await startPhone();
  const other = phone.pages[phone.openPage(program)];
  const made = await Promise.all([page, other].map((one) => one.modules.signing_key.getSigningKey()));
  assert.equal(made[0].public_key, made[1].public_key);
});

test("a record is saved without waiting for a signature; its file carries one", async () => {
  const { phone, page } = await startPhone();
  await page.begin(() => page.modules.outbox.record(FIELDS));
  assert.equal((await readMeta(phone)).get("signing_key"), undefined);
  const { value } = await page.begin(async () =>
    (await page.modules.export_file.buildExportFile()).file.text(),
  );
  const { events, signatures } = JSON.parse(value);
  assert.deepEqual(
    signatures.map((text) => text.length),
    events.map(() => 86),
  );
});

test("a browser that makes no key, or has no room for one, hands over without", async () => {
  const { page } = await startPhone();
  page.fullFor = 99;
  assert.equal(await page.modules.signing_key.getSigningKey(), null);
  page.fullFor = 0;
  assert.notEqual(await page.modules.signing_key.getSigningKey(), null);
});

test("what a phone took from another's file goes on with that one's signature", async () => {
  const [one, other] = [await startPhone(), await startPhone()];
  await one.page.begin(() => one.page.modules.outbox.record(FIELDS));
  const { value } = await one.page.begin(async () =>
    (await one.page.modules.export_file.buildExportFile()).file.text(),
  );
  const { signatures } = JSON.parse(value);
  await other.page.begin(() =>
    other.page.modules.export_file.importFile(new File([value], "unsent")),
  );
  const [[, row]] = (await other.phone.readAll(["events"])).events;
  assert.equal(row.signature, signatures[0]);
  const again = await other.page.begin(async () =>
    (await other.page.modules.export_file.buildExportFile()).file.text(),
  );
  assert.deepEqual(JSON.parse(again.value).signatures, signatures);
});

test("the secret beside the database outlives it, and is told only when the phone joins", async () => {
  const { phone, page } = await startPhone();
  const { secret } = await enrol(page);
  assert.match(secret, /^[0-9a-f]{64}$/);
  const after = await startPhone(phone.notes);
  assert.equal((await enrol(after.page)).secret, secret);
});
