import assert from "node:assert/strict";
import { test } from "node:test";
import {
  needsSecondReading,
  openReading,
  passTicks,
  patchAnswer,
  setAnswer,
  setReading,
} from "../../../static/phone/js/inspection/answers.js";
import { judgeDraft, newDraft } from "../../../static/phone/js/inspection/draft.js";
import { summarize } from "../../../static/phone/js/inspection/record.js";
import { compiled, fields, good_answers } from "./small_checklist.js";

const byId = Object.fromEntries(compiled.checks.map((check) => [check.id, check]));
const ids = (checks) => checks.map(({ id }) => id);
const fresh = () => newDraft(fields);
const answered = (answers) => ({ ...fresh(), answers });
const judged = (draft) => judgeDraft(compiled, draft);

test("readings are asked one after the other and again from the first when all are there", () => {
  let draft = fresh();
  assert.equal(openReading(draft, byId.margin), 0);
  draft = setReading(draft, byId.margin, 0, "12");
  assert.equal(openReading(draft, byId.margin), 1);
  assert.equal(judged(draft).margin.verdict, "missing");
  draft = setReading(draft, byId.margin, 1, "9.5");
  assert.equal(openReading(draft, byId.margin), 0);
  assert.equal(judged(draft).margin.verdict, "fail");
});

test("a second reading is asked of a measure too close to call, and of nothing else", () => {
  const asks = (id, answer) => needsSecondReading(answered({ [id]: answer }), byId[id]);
  assert.deepEqual(
    ["97", "97.7", "102.5", "103"].map((text) => asks("width", { values: [text] })),
    [true, true, true, true],
  );
  assert.deepEqual(
    ["97.8", "100", "96", "104", "900"].map((text) => asks("width", { values: [text] })),
    [false, false, false, false, false],
  );
  assert.equal(asks("width", { values: ["97", "97"] }), false, "never a third");
  assert.equal(asks("width", { values: ["97"], mark: "not_applicable" }), false);
  assert.equal(asks("margin", { values: ["10", "10"] }), false);
  assert.equal(asks("holes", { values: ["19"] }), false);
  assert.equal(needsSecondReading(fresh(), byId.width), false);
});

test("the second reading of a measure counts by the mean, and goes when the first is typed again", () => {
  const first = setReading(fresh(), byId.width, 0, "97.5");
  assert.equal(openReading(first, byId.width), 1);
  const both = setReading(first, byId.width, 1, "98.5");
  assert.deepEqual(both.answers.width, { values: ["97.5", "98.5"] });
  assert.deepEqual(judged(both).width, { verdict: "pass", reason: "within", value: 98 });
  assert.equal(openReading(both, byId.width), 0);
  assert.deepEqual(setReading(both, byId.width, 0, "100").answers.width, { values: ["100"] });
});

test("a mean still too close stays doubtful, and a guarded one counts as a fail", () => {
  const draft = answered({ ...good_answers, width: { values: ["97.1", "97.3"] } });
  assert.deepEqual(
    [ids(summarize(compiled, draft).doubtful), summarize(compiled, draft).failing],
    [["width"], []],
  );
  const guarded = {
    ...compiled,
    checks: compiled.checks.map((check) =>
      check.id === "width" ? { ...check, decision: "guarded" } : check,
    ),
  };
  assert.deepEqual(ids(summarize(guarded, draft).failing), ["width"]);
});

test("typing a reading again takes the old fault and mark away and keeps note and photo", () => {
  const draft = answered({
    width: { mark: "not_applicable", fault: "too-large", note: "bent", photos: ["p"] },
  });
  assert.deepEqual(setReading(draft, byId.width, 0, "100").answers.width, {
    note: "bent",
    photos: ["p"],
    values: ["100"],
  });
});

test("no change reaches the draft it was made from", () => {
  const draft = fresh();
  const copy = structuredClone(draft);
  setAnswer(draft, "edges", { mark: "pass" });
  patchAnswer(draft, "edges", { note: "x" });
  setReading(draft, byId.margin, 0, "12");
  passTicks(draft, [byId.edges, byId.swing]);
  assert.deepEqual(draft, copy);
});
