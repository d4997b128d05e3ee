import assert from "node:assert/strict";
import { test } from "node:test";
import { passTicks } from "../../../static/phone/js/inspection/answers.js";
import { judgeDraft, newDraft } from "../../../static/phone/js/inspection/draft.js";
import {
  checksOfPart,
  judgePart,
  nextOpenCheck,
  nextOpenPart,
  ticksToPass,
  walkParts,
} from "../../../static/phone/js/inspection/walk_order.js";
import { batch, compiled, fields, good_answers } from "./small_checklist.js";

const byId = Object.fromEntries(compiled.checks.map((check) => [check.id, check]));
const ids = (checks) => checks.map(({ id }) => id);
const fresh = () => newDraft(fields);
const answered = (answers) => ({ ...fresh(), answers });
const judged = (draft) => judgeDraft(compiled, draft);

test("a part asks readings first, then what is worked out, then ticks", () => {
  assert.deepEqual(ids(checksOfPart(compiled, judged(fresh()), "door")), [
    "width",
    "height",
    "area",
    "edges",
    "swing",
  ]);
});

test("a check whose condition is not met is not asked, nor is a part that has no other", () => {
  assert.deepEqual(ids(walkParts(compiled, judged(fresh()))), ["door", "grate", "legs"]);
  const painted = newDraft({ ...fields, batch: { ...batch, attributes: { painted: true } } });
  assert.deepEqual(ids(walkParts(compiled, judged(painted))), ["door", "grate", "paint", "legs"]);
});

test("a calculated check is never the next one to answer while an input is missing", () => {
  const draft = answered({ width: { values: ["100"] } });
  assert.equal(nextOpenCheck(compiled, judged(draft), "door", "width").id, "height");
  assert.equal(nextOpenCheck(compiled, judged(draft), "door", "height").id, "edges");
});

test("a calculated check without a value waits when an input does not apply", () => {
  const draft = answered({ ...good_answers, width: { mark: "not_applicable" } });
  assert.equal(nextOpenCheck(compiled, judged(draft), "door").id, "area");
});

test("the search for an open check goes round the end of the part", () => {
  const draft = answered({
    edges: { mark: "pass" },
    swing: { mark: "pass" },
    height: { values: ["70"] },
  });
  assert.equal(nextOpenCheck(compiled, judged(draft), "door", "swing").id, "width");
});

test("after the last part the search begins at the first and ends with none", () => {
  const { width, ...rest } = good_answers;
  assert.equal(nextOpenPart(compiled, judged(answered(rest)), "legs").id, "door");
  assert.equal(nextOpenPart(compiled, judged(answered(good_answers)), "legs"), null);
});

test("all ticks may pass together only when the readings of the part are in", () => {
  const before = ticksToPass(compiled, judged(fresh()), "door");
  assert.deepEqual([ids(before.ticks), before.isReady], [["edges", "swing"], false]);
  const after = ticksToPass(
    compiled,
    judged(answered({ width: { values: ["100"] }, height: { values: ["70"] } })),
    "door",
  );
  assert.deepEqual([ids(after.ticks), after.isReady], [["edges", "swing"], true]);
});

test("one open tick alone has no pass-all", () => {
  const draft = answered({
    width: { values: ["100"] },
    height: { values: ["70"] },
    swing: { mark: "pass" },
  });
  assert.deepEqual(ticksToPass(compiled, judged(draft), "door").ticks, []);
});

test("passing the open ticks leaves a failed one failed", () => {
  const draft = answered({
    width: { values: ["100"] },
    height: { values: ["70"] },
    swing: { mark: "fail", fault: "too-large" },
  });
  const done = passTicks(draft, [byId.edges]);
  assert.deepEqual(done.answers.swing, { mark: "fail", fault: "too-large" });
  assert.equal(judgePart(compiled, judged(done), "door"), "fail");
  assert.equal(nextOpenCheck(compiled, judged(done), "door"), null);
});
