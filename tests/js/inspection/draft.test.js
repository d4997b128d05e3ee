import assert from "node:assert/strict";
import { test } from "node:test";
import { setAnswer, setReading } from "../../../static/phone/js/inspection/answers.js";
import {
  dropCarried,
  newCorrection,
  newDraft,
  newReinspection,
} from "../../../static/phone/js/inspection/draft.js";
import {
  inspectionBody,
  recordFields,
  summarize,
} from "../../../static/phone/js/inspection/record.js";
import { moveToFirstOpen } from "../../../static/phone/js/inspection/walk_order.js";
import { compiled, fields, good_answers, inspectionOf } from "./small_checklist.js";

const byId = Object.fromEntries(compiled.checks.map((check) => [check.id, check]));
const fresh = () => newDraft(fields);
const answered = (answers) => ({ ...fresh(), answers });

const failed = inspectionOf(
  inspectionBody(compiled, answered({ ...good_answers, edges: { mark: "fail", fault: "raw" } }), {
    kind: "rework",
  }),
);

test("a second look asks what failed and carries the rest", () => {
  const draft = newReinspection(fields, [failed]);
  assert.equal(draft.answers.edges, undefined);
  assert.deepEqual(draft.carried, ["swing", "width", "height", "holes", "margin", "crack"]);
  assert.deepEqual(moveToFirstOpen(compiled, draft).at, { part: "door", check: "edges" });
});

test("a doubtful reading that counts as pass is not asked again", () => {
  const first = inspectionOf(
    inspectionBody(
      compiled,
      answered({ ...good_answers, width: { values: ["97"] }, edges: { mark: "fail" } }),
      { kind: "rework" },
    ),
  );
  assert.ok(newReinspection(fields, [first]).carried.includes("width"));
});

test("a second look records only what was looked at again, and may release", () => {
  const draft = setAnswer(newReinspection(fields, [failed]), "edges", { mark: "pass" });
  assert.equal(summarize(compiled, draft).allowed[0], "release");
  const body = inspectionBody(compiled, draft, { kind: "release" });
  assert.deepEqual(body.answers, { edges: { mark: "pass" } });
  assert.deepEqual([body.verdicts.edges, body.verdicts.swing], ["pass", "missing"]);
});

test("a failed sum asks all its inputs again, also those within their limits", () => {
  const first = inspectionOf(
    inspectionBody(
      compiled,
      answered({ ...good_answers, width: { values: ["103"] }, height: { values: ["73"] } }),
      { kind: "rework" },
    ),
  );
  const draft = newReinspection(fields, [first]);
  assert.deepEqual(draft.carried, ["edges", "swing", "holes", "margin", "crack"]);
});

test("a new reading takes the carried one along that its sum needs", () => {
  const draft = setReading(newReinspection(fields, [failed]), byId.width, 0, "101");
  const body = inspectionBody(compiled, draft, { kind: "hold" });
  assert.deepEqual(Object.keys(body.answers).sort(), ["height", "width"]);
  assert.equal(body.verdicts.area, "pass");
});

test("looking at everything again leaves nothing carried", () => {
  const draft = dropCarried(newReinspection(fields, [failed]));
  assert.deepEqual([draft.answers, draft.carried], [{}, []]);
});

test("a third look builds on both before it", () => {
  const second = {
    ...inspectionOf(
      inspectionBody(
        compiled,
        setAnswer(newReinspection(fields, [failed]), "edges", { mark: "fail", fault: "sharp" }),
        { kind: "rework" },
      ),
    ),
    id: "i2",
  };
  const draft = newReinspection(fields, [failed, second]);
  assert.deepEqual([draft.answers.edges, draft.answers.width], [undefined, { values: ["100"] }]);
});

test("a correction starts from the recorded answers, replaces the body and gives its reason", () => {
  const draft = newCorrection(
    { stage: "finished", stove: "M-001", checklist: "small-stove@2", inspector: "I02" },
    [failed],
    0,
  );
  const mended = setAnswer(draft, "edges", { mark: "pass" });
  const record = recordFields(compiled, mended, { kind: "release" }, "wrong stove in hand");
  assert.deepEqual(
    [record.kind, record.corrects, record.inspector, record.batch],
    ["correction", "i1", "I02", "B1"],
  );
  assert.deepEqual(
    record.body.replacement,
    inspectionBody(compiled, answered(good_answers), { kind: "release" }),
  );
  assert.equal(record.body.reason, "wrong stove in hand");
  assert.notEqual(draft.key, fresh().key);
});
