import assert from "node:assert/strict";
import { test } from "node:test";
import {
  countByPart,
  countFaults,
  countMakers,
  seenSince,
  unseenRuns,
} from "../../../static/phone/js/inspection/day.js";
import { serialKey } from "../../../static/phone/js/inspection/serial.js";
import { compiled } from "./small_checklist.js";

const MORNING = "2026-11-25T06:00:00.000Z";
const find = () => compiled;
const USUAL = { at: "2026-11-25T08:00:00.000Z", crew: { cut: "A01" }, faults: {} };
const inspection = (id, verdicts, more = {}) => {
  const { at, crew, faults } = { ...USUAL, ...more };
  const answer = (check) => [check, { fault: faults[check] }];
  return {
    id,
    captured_at: at,
    checklist_hash: "h",
    body: { crew, verdicts, answers: Object.fromEntries(Object.keys(verdicts).map(answer)) },
  };
};
const stove = (serial, inspections, origin = "own") => ({
  key: `finished/${serial}`,
  inspections,
  rows: inspections.map(({ id }) => ({ origin, event: { id } })),
});

test("the day holds this phone's inspections since midnight, and no others", () => {
  const stoves = [
    stove("1", [inspection("a", {})]),
    stove("2", [inspection("b", {})], "other"),
    stove("3", [inspection("c", {}, { at: "2026-11-24T16:00:00.000Z" }), inspection("d", {})]),
    stove("4", []),
  ];
  const seen = seenSince(stoves, MORNING);
  assert.deepEqual(
    seen.map(({ inspection: { id }, isFirst }) => [id, isFirst]),
    [["a", true], ["d", false]],
  );
});

test("a fault is counted once a stove, and at its part", () => {
  const twice = stove("1", [
    inspection("a", { width: "fail", edges: "fail" }, { faults: { width: "too-large" } }),
    inspection("b", { width: "fail" }, { faults: { width: "too-large" } }),
  ]);
  const other = stove("2", [inspection("c", { width: "fail" }, { faults: { width: "too-small" } })]);
  const faults = countFaults(seenSince([twice, other], MORNING), find);
  assert.deepEqual(
    faults.map(({ check, stoves, faults }) => [check.id, stoves.size, [...faults]]),
    [["width", 2, ["too-large", "too-small"]], ["edges", 1, []]],
  );
  assert.deepEqual(countByPart(faults), new Map([["stove.svg", { door: 2 }]]));
});

test("a doubtful value is a fault only where the check is guarded", () => {
  const guarded = { ...compiled, checks: compiled.checks.map((one) => ({ ...one, decision: "guarded" })) };
  const seen = seenSince([stove("1", [inspection("a", { width: "doubtful" })])], MORNING);
  assert.equal(countFaults(seen, find).length, 0);
  assert.equal(countFaults(seen, () => guarded).length, 1);
});

test("whom to see: of the stoves whose check was answered, first inspections alone", () => {
  const seen = seenSince(
    [
      stove("1", [inspection("a", { width: "fail", edges: "pass" })]),
      stove("2", [inspection("b", { width: "pass", edges: "fail" })]),
      stove("3", [inspection("c", { width: "missing", edges: "pass" })]),
      stove("4", [inspection("d", { width: "pass" }), inspection("e", { width: "fail" })]),
      stove("5", [inspection("f", { width: "fail" }, { crew: {} })]),
    ],
    MORNING,
  );
  const found = countMakers(seen, find).map(({ maker, check, stoves, seen: of }) => [
    maker,
    check.id,
    stoves.size,
    of.size,
  ]);
  // What can hurt someone comes first.
  assert.deepEqual(found, [["A01", "edges", 1, 3], ["A01", "width", 1, 3]]);
});

test("a record whose checklist is gone is left out", () => {
  const seen = seenSince([stove("1", [inspection("a", { width: "fail" })])], MORNING);
  assert.deepEqual(countFaults(seen, () => undefined), []);
});

test("stoves not seen yet are told in runs; other writings of a serial are seen too", () => {
  const batch = { serial_prefix: "B1-", planned: 8 };
  assert.deepEqual(unseenRuns(batch, ["b1 2", "B1-OO4", "B1-005", "X-6", "B1-099"].map(serialKey)), [
    ["B1-001", "B1-001"],
    ["B1-003", "B1-003"],
    ["B1-006", "B1-008"],
  ]);
  assert.deepEqual(unseenRuns({ serial_prefix: "B1-", planned: 1 }, [serialKey("B1-001")]), []);
  assert.equal(unseenRuns({ planned: 8 }, []), null, "the yard's own serials cannot be foretold");
});
