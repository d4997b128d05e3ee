// First pieces: which checks they get, whose there are, how each stands today, what is recorded.
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  firstPieceChecks,
  listFirstPieces,
  newFirstPiece,
  standOf,
} from "../../../static/phone/js/inspection/first_piece.js";
import { recordFields } from "../../../static/phone/js/inspection/record.js";
import { findGap } from "../../../static/phone/js/screens/review.js";
import { keyOf } from "../../../static/phone/js/store/outbox.js";

const limits = (lower, upper) => ({
  medium: { lower, nominal: null, upper, accept_lower: lower, accept_upper: upper },
});
const plain = { part: "p", when: {}, faults: [], decision: "simple", possible: { lower: 0, upper: 999 } };
const compiled = {
  id: "cladding",
  revision: 4,
  stage: "cladding",
  first_piece: ["cut"],
  steps: [
    { id: "cut", trade: "metalwork", title: { en: "Cut" } },
    { id: "fold", trade: "metalwork", title: { en: "Fold" } },
  ],
  checks: [
    { ...plain, id: "width", step: "cut", severity: "major", kind: "measure", limits: limits(97, 103) },
    { ...plain, id: "looks", step: "cut", severity: "minor", kind: "tick" },
    { ...plain, id: "edge", step: "cut", severity: "critical", kind: "tick" },
    { ...plain, id: "height", step: "fold", severity: "minor", kind: "measure", limits: limits(1, 9) },
    {
      ...plain,
      id: "area",
      step: "cut",
      severity: "critical",
      kind: "calculated",
      inputs: ["width", "height"],
      expression: ["*", ["input", "width"], ["input", "height"]],
      limits: limits(1, 800),
    },
  ],
};
const batch = (code, maker) => ({
  code,
  size: "medium",
  attributes: { painted: false },
  crew: { metalwork: maker },
});
const open = (...batches) =>
  batches.map((one) => ({ batch: one, checklists: [{ hash: "h", compiled }] }));
const [task] = listFirstPieces(open(batch("B1", "A01")));
const by = { inspector: "I01", started_at: "2026-11-25T07:00:00.000Z", title: "Cut" };
const NOW = "2026-11-25T09:00:00.000Z";
const piece = (at, is_good, more = {}) => ({
  kind: "first_piece",
  checklist: "cladding@4",
  captured_at: at,
  body: { step: "cut", maker: "A01", is_good, ...more },
});

test("a first piece gets the critical and measured checks of its step, and what a sum needs", () => {
  assert.deepEqual(firstPieceChecks(compiled, "cut"), ["width", "edge", "height", "area"]);
  assert.deepEqual(firstPieceChecks(compiled, "fold"), ["height"]);
});

test("each step that the checklist names, once for each maker of the open batches", () => {
  const all = listFirstPieces(open(batch("B1", "A01"), batch("B2", "A01"), batch("B3", "A02")));
  assert.deepEqual(
    all.map(({ step, maker }) => [step.id, maker]),
    [
      ["cut", "A01"],
      ["cut", "A02"],
    ],
  );
  assert.deepEqual(listFirstPieces(open(batch("B1", undefined))), []);
});

test("it is open anew each day, stops at a fault, and is good once one was", () => {
  const at = (hour) => `2026-11-25T0${hour}:00:00.000Z`;
  assert.equal(standOf(task, [], NOW), "open");
  assert.equal(standOf(task, [piece("2026-11-23T08:00:00.000Z", true)], NOW), "open");
  assert.equal(standOf(task, [piece(at(7), false)], NOW), "stop");
  assert.equal(standOf(task, [piece(at(8), true), piece(at(7), false)], NOW), "good");
  const others = [
    piece(at(7), true, { maker: "A02" }),
    piece(at(7), true, { step: "fold" }),
  ];
  assert.equal(standOf(task, others, NOW), "open");
});

test("its record is of no stove, says why it was checked, and whether more may be made", () => {
  const reasons = ["open", "stop", "good"].map((stand) => newFirstPiece(task, stand, by));
  assert.deepEqual(
    reasons.map(({ first_piece }) => first_piece.reason),
    ["day", "set_right", "new_tool"],
  );
  const answers = { width: { values: ["104"] }, height: { values: ["5"] }, edge: { mark: "pass" } };
  const draft = { ...reasons[0], answers };
  const fields = recordFields(compiled, draft, { kind: null }, undefined);
  assert.equal(fields.kind, "first_piece");
  assert.ok(!("stove" in fields) && !("stage" in fields) && !("disposition" in fields.body));
  assert.equal(keyOf(fields), "first-piece/cut");
  assert.deepEqual(fields.body.verdicts, {
    width: "fail",
    edge: "pass",
    height: "pass",
    area: "pass",
  });
  assert.equal(fields.body.is_good, false);
  const good = { ...draft, answers: { ...answers, width: { values: ["100"] } } };
  assert.equal(recordFields(compiled, good, { kind: null }, undefined).body.is_good, true);
});

test("it is saved when every check of it is answered, without a disposition", () => {
  const draft = newFirstPiece(task, "open", by);
  assert.equal(findGap(draft, { missing: [{}], unnamed: [] }, null), "study.gap");
  assert.equal(findGap(draft, { missing: [], unnamed: [{}] }, null), "review.gap_fault");
  assert.equal(findGap(draft, { missing: [], unnamed: [] }, null), null);
});
