import assert from "node:assert/strict";
import { test } from "node:test";
import { batchesOf, findStoves } from "../../../static/phone/js/inspection/find_serial.js";

const plain = { code: "B1", serial_prefix: "B1-", planned: 20, attributes: {} };
const checked = { ...plain, code: "B2", serial_prefix: "B2-", attributes: { checked_serials: true } };
const own = { code: "B3", planned: 20, attributes: {} };
const known = [
  ["finished/B1-7", plain],
  ["fired-liner/B1-7", plain],
  ["finished/B1-17", plain],
  ["finished/B1-70", plain],
  ["finished/B2-7", checked],
  ["finished/TALL P07", own],
].map(([key, batch]) => ({ key, batch }));
const keys = (typed) => findStoves(typed, known).map(({ key }) => key);

test("a serial written out is that stove at every stage, however it is typed", () => {
  for (const typed of ["B1-007", "b1 7", " Bl-OO7 "])
    assert.deepEqual(keys(typed), ["finished/B1-7", "fired-liner/B1-7"], typed);
});

test("a number alone means the stoves of that number, then those that have it within", () => {
  assert.deepEqual(keys("7").slice(0, 3), ["finished/B1-7", "fired-liner/B1-7", "finished/B2-7"]);
  assert.ok(keys("7").includes("finished/B1-17"));
});

test("a tag's check character finds its stove, and the serial without it does too", () => {
  // B2-007.? by ISO/IEC 7064 MOD 37,36, as tests/vectors/serial has B1-007.N.
  const tags = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ".split("").map((sign) => `B2-007.${sign}`);
  const fitting = tags.filter((tag) => keys(tag)[0] === "finished/B2-7");
  assert.equal(fitting.length, 1);
  assert.deepEqual(keys("B2-007"), ["finished/B2-7"]);
});

test("nothing typed finds nothing", () => {
  assert.deepEqual(keys("  "), []);
  assert.deepEqual(keys("Q9"), []);
});

test("a new serial belongs to the open batch whose form and range it has", () => {
  const found = (typed) => batchesOf(typed, [plain, checked, own]).map(({ batch }) => batch.code);
  assert.deepEqual(found("B1-009"), ["B1"]);
  assert.deepEqual(found("B1-021"), [], "beyond what was planned");
  assert.deepEqual(found("B2-009"), [], "its tag ends in a point and a character");
});
