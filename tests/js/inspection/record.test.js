import assert from "node:assert/strict";
import { test } from "node:test";
import { judgeDraft, newCorrection, newDraft } from "../../../static/phone/js/inspection/draft.js";
import {
  inspectionBody,
  obviousFault,
  recordFields,
  summarize,
} from "../../../static/phone/js/inspection/record.js";
import { judgePart, nextOpenPart } from "../../../static/phone/js/inspection/walk_order.js";
import { compiled, fields, good_answers } from "./small_checklist.js";

const byId = Object.fromEntries(compiled.checks.map((check) => [check.id, check]));
const ids = (checks) => checks.map(({ id }) => id);
const fresh = () => newDraft(fields);
const answered = (answers) => ({ ...fresh(), answers });
const judged = (draft) => judgeDraft(compiled, draft);

test("the side of a reading names its fault; a list of one needs no side; a tick of two names none", () => {
  const draft = answered({
    width: { values: ["106"] },
    height: { values: ["60"] },
    margin: { values: ["9", "12"] },
    edges: { mark: "fail" },
  });
  const judgements = judged(draft);
  assert.equal(obviousFault(byId.width, judgements.width), "too-large");
  assert.equal(obviousFault(byId.height, judgements.height), "too-small");
  assert.equal(obviousFault(byId.margin, judgements.margin), "too-near");
  assert.equal(obviousFault(byId.edges, judgements.edges), null);
});

test("a good stove is proposed for release and nothing is left to name", () => {
  const found = summarize(compiled, answered(good_answers));
  assert.deepEqual(
    [found.allowed[0], found.missing, found.failing, found.unnamed],
    ["release", [], [], []],
  );
});

test("a failed critical check cannot be released and waits for its fault to be named", () => {
  const found = summarize(compiled, answered({ ...good_answers, edges: { mark: "fail" } }));
  assert.ok(!found.allowed.includes("release") && !found.allowed.includes("concession"));
  assert.deepEqual(ids(found.unnamed), ["edges"]);
});

test("what was not checked leaves hold as the first proposal", () => {
  const { crack, ...rest } = good_answers;
  const found = summarize(compiled, answered(rest));
  assert.deepEqual([ids(found.missing), found.allowed[0]], [["crack"], "hold"]);
});

test("a calculated check that fails gets its fault by its side in the body", () => {
  const body = inspectionBody(
    compiled,
    answered({ ...good_answers, width: { values: ["103"] }, height: { values: ["73"] } }),
    { kind: "rework" },
  );
  assert.equal(body.verdicts.area, "fail");
  assert.deepEqual(body.answers.area, { fault: "too-large" });
});

test("the body has a verdict for every check and no absent value written out", () => {
  const body = inspectionBody(compiled, answered(good_answers), { kind: "release" });
  assert.deepEqual(Object.keys(body.verdicts).sort(), ids(compiled.checks).sort());
  assert.equal(body.verdicts.cover, "not_applicable");
  assert.deepEqual(body.answers, good_answers);
  assert.deepEqual(body, JSON.parse(JSON.stringify(body)));
});

test("the photos of all answers are listed once in the record", () => {
  const draft = answered({
    ...good_answers,
    edges: { mark: "pass", photos: ["a", "b"] },
    swing: { mark: "pass", photos: ["a"] },
  });
  assert.deepEqual(recordFields(compiled, draft, { kind: "release" }).photos, ["a", "b"]);
});

test("a record names the pieces that the stove is made of, and a correction keeps them", () => {
  const good = { kind: "release" };
  const made_from = { "fired-liner": "L007" };
  const draft = { ...newDraft({ ...fields, made_from }), answers: good_answers };
  assert.deepEqual(inspectionBody(compiled, draft, good).made_from, made_from);
  const inspection = {
    id: "i1",
    batch: "B1",
    checklist_hash: "h",
    body: inspectionBody(compiled, draft, good),
  };
  const place = { stage: "finished", stove: "B1-001", checklist: "x@1", inspector: "I01" };
  const corrected = newCorrection(place, [inspection], 0);
  assert.deepEqual(inspectionBody(compiled, corrected, good).made_from, made_from);
});

test("a record without a piece says nothing of one", () => {
  for (const made_from of [undefined, {}]) {
    const draft = { ...newDraft({ ...fields, made_from }), answers: good_answers };
    assert.ok(!("made_from" in inspectionBody(compiled, draft, { kind: "release" })));
  }
});

test("what cannot be measured fails with its fault, and its sum neither waits nor is inspected", () => {
  const torn = { ...good_answers, width: { mark: "cannot_measure", note: "torn" } };
  const draft = answered(torn);
  const found = summarize(compiled, draft);
  assert.deepEqual([ids(found.failed), found.missing, found.unnamed], [["width"], [], []]);
  assert.equal(found.allowed[0], "rework");
  const body = inspectionBody(compiled, draft, { kind: "rework" });
  assert.deepEqual(body.answers.width, { ...torn.width, fault: "cannot-measure" });
  assert.deepEqual([body.verdicts.width, body.verdicts.area], ["fail", "missing"]);
  assert.equal(nextOpenPart(compiled, judged(draft)), null, "the walk ends");
  assert.equal(judgePart(compiled, judged(draft), "door"), "fail");
});

test("a check said not to apply is told apart, and nobody's release is chosen beforehand", () => {
  const allowing = {
    ...compiled,
    checks: compiled.checks.map((check) =>
      check.id === "swing" ? { ...check, may_not_apply: true } : check,
    ),
  };
  const skipped = { ...good_answers, swing: { mark: "not_applicable", note: "no door" } };
  const found = summarize(allowing, answered(skipped));
  assert.deepEqual(
    [ids(found.skipped), found.allowed[0], found.proposed],
    [["swing"], "release", null],
  );
  assert.deepEqual(ids(summarize(compiled, answered({ ...skipped })).missing), ["swing"]);
});
