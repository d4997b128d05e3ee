import assert from "node:assert/strict";
import { test } from "node:test";
import { piecesAsked, readPieces } from "../../../static/phone/js/screens/next.js";

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

test("a piece is asked for once, where its own stage is inspected", () => {
  const liner = { stage: "fired-liner" };
  const bedding = { stage: "bedding", made_from: ["fired-liner"], same_serial: ["cladding"] };
  const stove = { stage: "finished", made_from: ["fired-liner"], same_serial: ["bedding"] };
  const asked = (compiled, ...open) =>
    piecesAsked(
      {
        openBatches: () => open.map((_, at) => ({ at })),
        checklistsOf: ({ at }) => [{ compiled: open[at] }],
      },
      compiled,
    );
  assert.deepEqual(asked(stove, stove), []);
  assert.deepEqual(asked(stove, stove, liner), ["fired-liner"]);
  assert.deepEqual(asked(stove, stove, liner, bedding), []);
  assert.deepEqual(asked(bedding, stove, liner, bedding), ["fired-liner"]);
  assert.deepEqual(asked(liner, stove, liner, bedding), []);
});
