import assert from "node:assert/strict";
import { test } from "node:test";

import { judgeAnswers, judgeCheck } from "../../../static/phone/js/inspection/judge.js";

const limits = { lower: 1, nominal: null, upper: 9, accept_lower: 1, accept_upper: 9 };
const number = {
  when: {},
  decision: "simple",
  possible: { lower: 0, upper: 99 },
  limits: { medium: limits },
};
const width = { ...number, id: "width", kind: "measure" };
const legs = { ...number, id: "legs", kind: "readings", n: 3, by: "smallest" };
const twice = {
  ...number,
  id: "twice",
  kind: "calculated",
  inputs: ["width"],
  expression: ["*", 2, ["input", "width"]],
};
const context = { size: "medium", batch: {} };

test("a calculated check without its checklist is an error, not a verdict", () => {
  assert.throws(() => judgeCheck(twice, { width: { values: ["2"] } }, context), /twice/);
  assert.equal(
    judgeCheck(twice, { width: { values: ["2"] } }, context, { checks: [width, twice] }).value,
    4,
  );
});

test("every check of the checklist is judged, answered or not", () => {
  const judged = judgeAnswers({ checks: [width, legs, twice] }, {}, context);
  assert.deepEqual(
    Object.values(judged).map(({ reason }) => reason),
    ["no-answer", "no-answer", "input-missing"],
  );
});

test("a place skipped while typing is not a number", () => {
  const values = [];
  values[2] = "5";
  assert.equal(judgeCheck(legs, { legs: { values } }, context).reason, "not-a-number");
});
