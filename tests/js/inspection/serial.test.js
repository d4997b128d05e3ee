import assert from "node:assert/strict";
import { test } from "node:test";
import { proposeSerial } from "../../../static/phone/js/inspection/serial.js";

test("the next serial follows the highest of its prefix, others left out", () => {
  assert.equal(proposeSerial("M-", []), "M-001");
  assert.equal(proposeSerial("M-", ["M-001", "M-009", "S-400", "M-x", "M-12b"]), "M-010");
  assert.equal(proposeSerial("M-", ["M-999"]), "M-1000");
});

// --- A sample was agreed: a stove outside it is asked the critical checks only.
