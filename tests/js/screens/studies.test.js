// Which looks may be made in any order: those whose stoves are at hand, not a study's.
import assert from "node:assert/strict";
import { test } from "node:test";
import { SECOND_LOOK, isAnyOrder } from "../../../static/phone/js/screens/studies.js";

const study = (id) => ({ id, title: "B5", orders: {} });

test("second looks and a buyer's re-check are made in any order, a study in its own", () => {
  assert.equal(isAnyOrder(study(SECOND_LOOK)), true);
  assert.equal(isAnyOrder(study("recheck:B5")), true);
  assert.equal(isAnyOrder(study("0197f000-0000-7000-8000-000000000001")), false);
});
