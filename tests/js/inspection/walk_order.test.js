import assert from "node:assert/strict";
import { test } from "node:test";
import { passTicks } from "../../../static/phone/js/inspection/answers.js";
import {
  isCutShort,
  startTimer,
  timedFields,
} from "../../../static/phone/js/inspection/timer.js";
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

const READ = { width: { values: ["100"] }, height: { values: ["70"] } };

/** The same with other severities or times: {check id: change}. */
const changed = (changes) => ({
  ...compiled,
  checks: compiled.checks.map((check) => ({ ...check, ...changes[check.id] })),
});

test("all ticks may pass together only when nothing else of the part is open", () => {
  const gentle = changed({ edges: { severity: "minor" } });
  const passable = (answers) => ticksToPass(gentle, judged(answered(answers)), "door");
  const before = passable({});
  assert.deepEqual([ids(before.ticks), before.isReady], [["edges", "swing"], false]);
  const after = passable(READ);
  assert.deepEqual([ids(after.ticks), after.isReady], [["edges", "swing"], true]);
});

test("what can hurt someone, or lasts, is asked first and never passes with others", () => {
  const lasting = changed({ edges: { severity: "minor", lasts_seconds: 60 } });
  for (const checklist of [compiled, lasting]) {
    const { ticks, isReady } = ticksToPass(checklist, judged(answered(READ)), "door");
    assert.deepEqual([ticks, isReady], [[], false]);
    const draft = { ...answered(READ), at: { part: "door", check: null } };
    assert.equal(nextOpenCheck(checklist, judged(draft), "door").id, "edges");
  }
});

test("the record says how a tick was given", () => {
  const { answers } = passTicks(fresh(), [byId.swing]);
  assert.deepEqual(answers.swing, { mark: "pass", given: "group" });
  const lasts = { id: "edges", lasts_seconds: 60 };
  const now = (s) => new Date(Date.UTC(2026, 10, 30, 9, 0, s)).toISOString();
  const started = startTimer(fresh(), "edges", now(0));
  assert.deepEqual(timedFields(fresh(), lasts, now(70)), { given: "single", timed_s: undefined });
  assert.deepEqual(timedFields(started, lasts, now(59)), { given: "single", timed_s: 59 });
  assert.deepEqual(timedFields(started, lasts, now(60)), { given: "timed", timed_s: 60 });
  assert.deepEqual(timedFields(started, { ...lasts, id: "swing" }, now(70)), {
    given: "single",
    timed_s: undefined,
  });
  assert.equal(isCutShort(lasts, { mark: "pass", given: "single", timed_s: 59 }), true);
  assert.equal(isCutShort(lasts, { mark: "pass", given: "timed", timed_s: 60 }), false);
  assert.equal(isCutShort(lasts, { mark: "fail", given: "single" }), false);
  assert.equal(isCutShort({}, { mark: "pass", given: "single" }), false);
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
