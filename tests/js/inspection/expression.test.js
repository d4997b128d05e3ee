import assert from "node:assert/strict";
import { test } from "node:test";

import { evaluate } from "../../../static/phone/js/inspection/expression.js";

const input = (id) => ["input", id];

test("operations follow the tree, not the usual precedence", () => {
  assert.equal(evaluate(["*", ["+", 1, 2], ["neg", 4]], {}), -12);
  assert.equal(evaluate(["-", 10, ["/", input("a"), 4]], { a: 8 }), 8);
});

test("functions take one or more values", () => {
  assert.equal(evaluate(["sqrt", 9], {}), 3);
  assert.equal(evaluate(["abs", ["neg", 2.5]], {}), 2.5);
  assert.equal(evaluate(["min", 3, 1, 2], {}), 1);
  assert.equal(evaluate(["max", 3, 7, 5, 6], {}), 7);
});

test("a missing input anywhere makes the whole unknown", () => {
  assert.equal(evaluate(["*", 0, input("a")], {}), null);
  assert.equal(evaluate(["max", 1, input("a")], { a: null }), null);
});

test("an inherited name is not an input", () => {
  assert.equal(evaluate(input("constructor"), {}), null);
});

test("no finite answer is unknown, also deep inside", () => {
  assert.equal(evaluate(["/", 1, 0], {}), null);
  assert.equal(evaluate(["/", 1, ["/", 1, 0]], {}), null);
  assert.equal(evaluate(["sqrt", -1], {}), null);
});
