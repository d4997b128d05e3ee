import assert from "node:assert/strict";
import { test } from "node:test";
import { proposeSerial } from "../../../static/phone/js/inspection/serial.js";

test("the next serial follows the highest of its prefix, others left out", () => {
  const propose = (serials, planned = 20) =>
    proposeSerial({ serial_prefix: "M-", planned }, serials);
  assert.equal(propose([]), "M-001");
  assert.equal(propose(["M-001", "M-009", "S-400", "M-x", "M-12b"]), "M-010");
  assert.equal(propose(["m 9", "M-OO8"]), "M-010");
  assert.equal(propose(["M-003", "M-900"]), "M-004");
  assert.equal(propose(["M-020"]), "M-021");
  assert.equal(propose(["M-999"], 2000), "M-1000");
});

// --- A sample was agreed: a stove outside it is asked the critical checks only.
