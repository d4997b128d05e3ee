import assert from "node:assert/strict";
import { test } from "node:test";
import { judgeLoss } from "../../../static/phone/js/store/device.js";
import { isSamePosition, settleRow } from "../../../static/phone/js/store/acknowledge.js";

const UNKNOWN = { code: "unknown_batch", params: { batch: "B9" } };
const waiting = { id: "e1", event: { dev_seq: 1 }, origin: "own", state: "unsent" };

for (const outcome of ["created", "duplicate"]) {
  test(`a record named ${outcome} is sent`, () => {
    assert.deepEqual(settleRow(waiting, { outcome }, 9), {
      ...waiting,
      state: "sent",
      outcome,
      seq: 9,
    });
  });
}

for (const outcome of ["quarantined", "conflict"]) {
  test(`a record named ${outcome} is done but shown with its reason`, () => {
    const row = settleRow(waiting, { outcome, reason: UNKNOWN }, 9);
    assert.equal(row.state, "shown");
    assert.equal(row.reason, UNKNOWN);
  });
}

for (const outcome of ["retry", "stored", "constructor", ""]) {
  test(`a record named "${outcome}" still waits`, () => {
    assert.equal(settleRow(waiting, { outcome }, 9).state, "unsent");
  });
}

test("an earlier reason goes when the record is settled", () => {
  const row = settleRow({ ...waiting, reason: { code: "too_large", params: {} } }, { outcome: "created" }, 9);
  assert.equal("reason" in row, false);
});

test("a place in the log known before is kept", () => {
  assert.equal(settleRow({ ...waiting, seq: 4 }, { outcome: "duplicate" }, 9).seq, 4);
});

test("the place that the server names replaces an older one", () => {
  assert.equal(settleRow({ ...waiting, seq: 4 }, { outcome: "duplicate", seq: 7 }, 9).seq, 7);
});

test("two positions are the same only with the same number and chain", () => {
  assert.equal(isSamePosition({ seq: 3, chain: "a" }, { seq: 3, chain: "a" }), true);
  assert.equal(isSamePosition({ seq: 3, chain: "a" }, { seq: 3, chain: "b" }), false);
  assert.equal(isSamePosition({ seq: 3, chain: "a" }, { seq: 4, chain: "a" }), false);
  assert.equal(isSamePosition(null, { seq: 0, chain: "a" }), false);
  assert.equal(isSamePosition(null, undefined), true);
});

const canary = {
  device_id: "d1",
  created: 12,
  acked: 8,
  last_saved_at: "2026-11-25T08:00:00.000Z",
};

test("an empty database with a canary is a loss of what was not acknowledged", () => {
  assert.equal(judgeLoss(canary, undefined, 0).lost, 4);
});

test("a database older than the canary is a loss of the newest records", () => {
  assert.equal(judgeLoss(canary, "d1", 10).lost, 2);
});

test("a database older than what the server has lost nothing for good", () => {
  assert.equal(judgeLoss({ ...canary, acked: 12 }, "d1", 10).lost, 0);
});

test("a database as new as the canary has lost nothing", () => {
  assert.equal(judgeLoss(canary, "d1", 12), null);
  assert.equal(judgeLoss(canary, "d1", 13), null);
});

test("a database of another id than its canary is from before a loss, and none of its numbers count", () => {
  assert.equal(judgeLoss(canary, "d2", 3).lost, 4);
  assert.equal(judgeLoss({ device_id: "d1", created: 0 }, "d2", 3).created, 0);
});

test("without a canary, or before the first record, nothing can be lost", () => {
  assert.equal(judgeLoss(null, undefined, 0), null);
  assert.equal(judgeLoss({ device_id: "d1", created: 0, acked: 0 }, undefined, 0).lost, 0);
});
