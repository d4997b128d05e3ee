import assert from "node:assert/strict";
import { test } from "node:test";

import { listShown } from "../../../static/phone/js/inspection/shown.js";

test("what shows a checklist is its drawing and the pictures of any part of it", () => {
  const compiled = {
    drawing: "round-stove.svg",
    parts: [{ id: "door", picture: "whole-door" }],
    checks: [
      { id: "gap", picture: "rule-in-gap", faults: [{ id: "wide", picture: "gap-wide" }] },
      { id: "dent", picture: "rule-in-gap", faults: [{ id: "bad", picture: null }] },
    ],
  };
  assert.deepEqual(listShown(compiled), [
    "round-stove.svg",
    "pictures/whole-door.svg",
    "pictures/rule-in-gap.svg",
    "pictures/gap-wide.svg",
  ]);
});
