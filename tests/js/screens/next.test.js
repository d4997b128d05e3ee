import assert from "node:assert/strict";
import { test } from "node:test";
import { readPieces } from "../../../static/phone/js/screens/next.js";

const batch = { attributes: {} };
const checked = { attributes: { checked_serials: true } };
const read = (of, typed) => readPieces({ batch: of, made_from: { "fired-liner": typed } });

test("an empty field is no piece, and blanks around a serial mean nothing", () => {
  assert.deepEqual(read(batch, "  "), {});
  assert.deepEqual(read(batch, " L007 "), { "fired-liner": "L007" });
});

test("where tags have a check character, a piece's must come with it and fit", () => {
  // B1-007.N is the example of tests/vectors/serial; the piece may be of another batch.
  assert.deepEqual(read(checked, "B1-007.N"), { "fired-liner": "B1-007" });
  assert.equal(read(checked, "B1-007"), null);
  assert.equal(read(checked, "B1-008.N"), null);
});

test("what cannot be a serial is not taken for one", () => {
  assert.equal(read(batch, "x".repeat(41)), null);
});
