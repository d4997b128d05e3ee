// Templates and gauges on the phone: how a value is judged, when one is due, which checks use it.
import assert from "node:assert/strict";
import { test } from "node:test";
import { asCheck, isUsedFor, stateOf } from "../../../static/phone/js/inspection/gauge.js";
import { judgeCheck } from "../../../static/phone/js/inspection/judge.js";

const GAUGE = {
  id: "g1",
  held_against: "g1",
  unit: "mm",
  lower: 7.7,
  value: 8,
  upper: 8.3,
  step: "cut",
  tool: null,
  artisans: [],
  interval_days: 28,
  checked_at: "2026-11-01T08:00:00.000Z",
  is_outside: false,
  due_on: "2026-11-29",
  voided: [],
};
const NOW = "2026-12-01T12:00:00.000Z";
const check = (at, verdict, id = at) => ({
  id,
  kind: "gauge_check",
  captured_at: at,
  body: { gauge: "g1", verdict },
});

const judged = (text) =>
  judgeCheck(asCheck(GAUGE), { g1: { values: [text] } }, { size: "", batch: {} });

test("the edges of the tolerance belong to it, though 8.3 - 8 is more than 0.3 in binary", () => {
  assert.ok(8.3 - 8 > 0.3);
  const verdicts = ["7.7", "8", "8.3", "8,3", "7.6999", "8.3001"].map((one) => judged(one).verdict);
  assert.deepEqual(verdicts, ["pass", "pass", "pass", "pass", "fail", "fail"]);
});

test("a slip of the thumb is no error of the gauge", () => {
  assert.equal(judged("80").reason, "impossible");
  assert.equal(judged("3.9").reason, "impossible");
});

test("what the server said holds until a check is made here", () => {
  const state = stateOf(GAUGE, [check("2026-11-01T08:00:00.000Z", "fail")], NOW);
  assert.deepEqual([state.isOutside, state.dueOn, state.isLate], [false, "2026-11-29", true]);
});

test("a check made here since ends the delay, and one outside makes it due at once", () => {
  const good = check("2026-12-01T11:00:00.000Z", "pass");
  const after = stateOf(GAUGE, [good], NOW);
  assert.deepEqual([after.dueOn, after.isDue, after.isLate], ["2026-12-29", false, false]);
  const bad = check("2026-12-01T11:30:00.000Z", "fail");
  const outside = stateOf(GAUGE, [bad, good], NOW);
  assert.deepEqual([outside.dueOn, outside.isOutside, outside.isLate], ["2026-12-01", true, true]);
});

test("a voided check counts no more", () => {
  const good = check("2026-12-01T11:00:00.000Z", "pass", "wrong");
  assert.equal(stateOf({ ...GAUGE, voided: ["wrong"] }, [good], NOW).isLate, true);
});

test("due is not late yet on the day itself", () => {
  const state = stateOf({ ...GAUGE, due_on: "2026-12-01" }, [], NOW);
  assert.deepEqual([state.isDue, state.isLate], [true, false]);
});

test("it is said on the checks of its work, or on those made with the tool that it is", () => {
  const cut = { step: "cut", tool: "rule" };
  assert.equal(isUsedFor(GAUGE, cut, {}), true);
  assert.equal(isUsedFor(GAUGE, { step: "fold" }, {}), false);
  const shared = { ...GAUGE, artisans: ["A01"] };
  assert.equal(isUsedFor(shared, cut, { cut: "A01" }), true);
  assert.equal(isUsedFor(shared, cut, { cut: "A02" }), false);
  const rule = { ...GAUGE, step: null, tool: "rule" };
  assert.equal(isUsedFor(rule, cut, {}), true);
  assert.equal(isUsedFor(rule, { step: "cut", tool: null }, {}), false);
});
