import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { test } from "node:test";

import {
  browserSources,
  eventHash,
  sealEvent,
  stoveKey,
  uuid7,
} from "../../../static/phone/js/inspection/event.js";

const FIELDS = {
  kind: "void",
  device_id: "phone-2",
  dev_seq: 7,
  inspector: "ana",
  app_build: "a1",
  tz_min: 180,
  batch: "B1",
  stage: "finished",
  stove: "K-1",
  corrects: "x",
  body: { reason: "wrong stove" },
};
// Time and random bits of the example in RFC 9562, appendix A.6.
const EXAMPLE_MS = 0x017f22e279b0;
const EXAMPLE_BYTES = [0xfc, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f];
const sources = {
  now: () => EXAMPLE_MS,
  random: (count) => Uint8Array.from(EXAMPLE_BYTES.slice(0, count)),
  digest: async (bytes) => createHash("sha256").update(bytes).digest("hex"),
};

test("uuid7 gives the published example", () => {
  assert.equal(uuid7(EXAMPLE_MS, EXAMPLE_BYTES), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
});

test("uuid7 sets version and variant whatever the random bits are", () => {
  assert.equal(uuid7(0, new Uint8Array(10)), "00000000-0000-7000-8000-000000000000");
  assert.equal(
    uuid7(2 ** 48 - 1, new Uint8Array(10).fill(255)),
    "ffffffff-ffff-7fff-bfff-ffffffffffff",
  );
});

test("uuid7 takes a clock with fractions or from before 1970", () => {
  assert.equal(uuid7(1.9, new Uint8Array(10)).slice(0, 13), "00000000-0001");
  assert.equal(uuid7(-5, new Uint8Array(10)).slice(0, 13), "00000000-0000");
});

test("uuid7 does not change the bytes it was given", () => {
  const bytes = Uint8Array.from(EXAMPLE_BYTES);
  uuid7(EXAMPLE_MS, bytes);
  assert.deepEqual([...bytes], EXAMPLE_BYTES);
});

test("a sealed event has id, time, zone and absent fields as null", async () => {
  const event = await sealEvent(FIELDS, sources);
  assert.equal(event.id, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
  assert.equal(event.captured_at, "2022-02-22T19:22:22.000Z");
  assert.equal(event.tz_min, 180);
  assert.deepEqual([event.checklist, event.checklist_hash, event.photos], [null, null, []]);
});

test("the hash of a sealed event is that of its content", async () => {
  const event = await sealEvent(FIELDS, sources);
  assert.match(event.hash, /^[0-9a-f]{64}$/);
  assert.equal(await eventHash(event, sources.digest), event.hash);
  assert.notEqual(await eventHash({ ...event, dev_seq: 8 }, sources.digest), event.hash);
});

test("the browser's own SHA-256 gives the same hash", async () => {
  const event = await sealEvent(FIELDS, { ...sources, digest: browserSources.digest });
  assert.equal(event.hash, (await sealEvent(FIELDS, sources)).hash);
});

test("time zone is minutes east of UTC", async () => {
  const { tz_min: _, ...fields } = FIELDS;
  const event = await sealEvent(fields, sources);
  assert.equal(event.tz_min + new Date(EXAMPLE_MS).getTimezoneOffset(), 0);
  assert.ok(!Object.is(event.tz_min, -0));
});

test("a note cut in the middle of a character is mended, not refused", async () => {
  const event = await sealEvent({ ...FIELDS, body: { reason: "burnt \ud83d" } }, sources);
  assert.equal(event.body.reason, "burnt \ufffd");
});

test("a key whose value is undefined is absent", async () => {
  const event = await sealEvent({ ...FIELDS, body: { reason: "x", note: undefined } }, sources);
  assert.deepEqual(Object.keys(event.body), ["reason"]);
});

test("a fraction is refused before anything is sealed", async () => {
  await assert.rejects(sealEvent({ ...FIELDS, dev_seq: 1.5 }, sources), TypeError);
});

test("two events sealed in the same millisecond differ in id", async () => {
  const live = { ...browserSources, now: () => EXAMPLE_MS };
  const [one, other] = await Promise.all([sealEvent(FIELDS, live), sealEvent(FIELDS, live)]);
  assert.notEqual(one.id, other.id);
});

test("stove key is stage and serial", () => {
  assert.equal(stoveKey("finished", "K-0107"), "finished/K107");
});
