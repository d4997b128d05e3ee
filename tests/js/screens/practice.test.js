import assert from "node:assert/strict";
import { test } from "node:test";
import { attributesOfAll } from "../../../static/phone/js/screens/practice.js";

test("a practice stove is of a batch for which every check is asked", () => {
  const checks = [{ when: {} }, { when: { "batch.painted": true, size: "small" } }, { when: {} }];
  assert.deepEqual(attributesOfAll({ checks }), { painted: true });
  assert.deepEqual(attributesOfAll({ checks: [] }), {});
});
