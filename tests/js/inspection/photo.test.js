// A figure taken from a photo: kept with its proposal, typed over, and never mixed with a tool's.
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  markUnmeasurable,
  needsSecondReading,
  openReading,
  setReading,
} from "../../../static/phone/js/inspection/answers.js";
import { newDraft } from "../../../static/phone/js/inspection/draft.js";
import { judgeCheck } from "../../../static/phone/js/inspection/judge.js";
import { findProposed, writeProposal } from "../../../static/phone/js/screens/holes_answer.js";
import { fields } from "./small_checklist.js";

const sure = (value, uncertainty) => ({ value, uncertainty, parts: {}, line: [] });
const hole = (width, margin) => ({ x: 0, y: 0, width: sure(...width), margin: sure(...margin) });
const taken = {
  proposal: {
    holes: [
      hole([16.04, 0.21], [14.2, 0.35]),
      hole([15.55, 0.3], [10.349, 0.3000001]),
      hole([16.4, 0.2], [12, 0.2]),
    ],
    web: sure(9.25, 0.11),
  },
  setup: { ruler: 180.25, step: 0 },
};
const proposal = {
  count: 3,
  margin: { value: "10.3", uncertainty: "0.4" },
  web: { value: "9.3", uncertainty: "0.2" },
  widths: [
    { value: "16.0", uncertainty: "0.3" },
    { value: "15.6", uncertainty: "0.3" },
    { value: "16.4", uncertainty: "0.2" },
  ],
  ruler: "180.25",
  step: "0",
};
const kept = { photo: "a".repeat(64), overlay: "b".repeat(64), proposal };
const limits = { lower: 10, nominal: null, upper: null, accept_lower: 10.8, accept_upper: null };
const margin = {
  id: "margin",
  kind: "readings",
  n: 4,
  by: "smallest",
  photo: "holes",
  figure: "margin",
  uncertainty: 0.8,
  decision: "simple",
  possible: { lower: 0, upper: 60 },
  limits: { medium: limits },
  when: {},
};
const fromPhoto = () => ({
  ...newDraft(fields),
  answers: {
    margin: {
      values: ["10.3"],
      photos: [kept.photo, kept.overlay],
      holes: { ...kept, is_taken: true, uncertainty: "0.4" },
    },
  },
});

test("figures are written to a tenth, their uncertainty never rounded down", () => {
  assert.deepEqual(writeProposal(taken), proposal);
  const bare = { ...taken, proposal: { ...taken.proposal, web: null } };
  assert.equal(writeProposal(bare).web, null);
});

test("each check takes its own figure; a mean is as unsure as the worst width, a count is sure", () => {
  assert.deepEqual(findProposed({}, proposal), { value: "3" });
  assert.deepEqual(findProposed({ figure: "margin" }, proposal), proposal.margin);
  assert.deepEqual(findProposed({ figure: "web" }, proposal), proposal.web);
  assert.equal(findProposed({ figure: "web" }, { ...proposal, web: null }), null);
  assert.deepEqual(findProposed({ figure: "width" }, proposal), {
    value: "16.0",
    uncertainty: "0.3",
  });
});

test("one figure stands for all readings, and is followed by no second one", () => {
  const draft = fromPhoto();
  assert.equal(judgeCheck(margin, draft.answers, { size: "medium" }).verdict, "doubtful");
  assert.equal(openReading(draft, margin), 0);
  const measure = { ...margin, kind: "measure", n: undefined };
  assert.equal(needsSecondReading(draft, measure), false);
});

test("typed over, the value is a person's; proposal and pictures stay", () => {
  const before = fromPhoto();
  const draft = setReading(before, margin, 0, "12");
  const { answers } = draft;
  assert.deepEqual(answers.margin.values, ["12"], "no reading of the photo among the typed ones");
  assert.deepEqual(answers.margin.holes, { ...kept, is_taken: false });
  assert.deepEqual(answers.margin.photos, [kept.photo, kept.overlay]);
  assert.equal(openReading(draft, margin), 1);
  const given = judgeCheck(margin, answers, { size: "medium" });
  assert.deepEqual([given.verdict, given.reason], ["missing", "too-few-readings"]);
  assert.deepEqual(before, fromPhoto(), "the draft before is left alone");
});

test("what cannot be measured after all takes nothing from the photo", () => {
  const { margin: answer } = markUnmeasurable(fromPhoto(), "margin").answers;
  assert.equal(answer.mark, "cannot_measure");
  assert.equal(answer.values, undefined);
  assert.deepEqual(answer.holes, { ...kept, is_taken: false });
});
