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
import {
  dropCarried,
  judgeDraft,
  newCorrection,
  newDraft,
  newReinspection,
} from "../../../static/phone/js/inspection/draft.js";
import {
  inspectionBody,
  obviousFault,
  recordFields,
  summarize,
} from "../../../static/phone/js/inspection/record.js";
import {
  moveToFirstOpen,
  checksOfPart,
  judgePart,
  nextOpenCheck,
  nextOpenPart,
  ticksToPass,
  walkParts,
} from "../../../static/phone/js/inspection/walk_order.js";
import { proposeSerial } from "../../../static/phone/js/inspection/serial.js";
import { batch, compiled, fields, good_answers, inspectionOf } from "./small_checklist.js";

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

test("the next serial follows the highest of its prefix, others left out", () => {
  assert.equal(proposeSerial("M-", []), "M-001");
  assert.equal(proposeSerial("M-", ["M-001", "M-009", "S-400", "M-x", "M-12b"]), "M-010");
  assert.equal(proposeSerial("M-", ["M-999"]), "M-1000");
});

// --- A sample was agreed: a stove outside it is asked the critical checks only.

const sampled = { ...batch, sample: { stage: "finished", serials: ["B1-002", "B1-007"] } };
const drawn = (stove) => newDraft({ ...fields, batch: sampled, stove });

test("a stove in the sample is asked everything, one outside only critical checks", () => {
  assert.equal(drawn("B1-007").is_short, false);
  assert.deepEqual(ids(walkParts(compiled, judged(drawn("B1-007")))), ["door", "grate", "legs"]);
  assert.equal(drawn("B1-003").is_short, true);
  assert.deepEqual(ids(walkParts(compiled, judged(drawn("B1-003")))), ["door"]);
  assert.deepEqual(ids(checksOfPart(compiled, judged(drawn("B1-003")), "door")), ["edges"]);
});

test("a sample of another stage leaves this one whole", () => {
  const other = { ...batch, sample: { stage: "cladding", serials: [] } };
  assert.equal(newDraft({ ...fields, batch: other, stove: "B1-003" }).is_short, false);
});

test("a short look may release, and says what it looked at; the rest is missing", () => {
  const draft = { ...drawn("B1-003"), answers: { edges: { mark: "pass" } } };
  const found = summarize(compiled, draft);
  assert.deepEqual([found.missing, found.allowed[0]], [[], "release"]);
  const body = inspectionBody(compiled, draft, { kind: "release" });
  assert.equal(body.scope, "critical");
  assert.equal(body.verdicts.edges, "pass");
  assert.equal(body.verdicts.width, "missing");
});

test("a whole look has no scope, and missing answers keep it from being released", () => {
  const draft = { ...drawn("B1-007"), answers: { edges: { mark: "pass" } } };
  assert.equal(summarize(compiled, draft).allowed.includes("release"), false);
  assert.equal("scope" in inspectionBody(compiled, draft, { kind: "hold", reason: "x" }), false);
});

test("a critical fault of a short look is never released, and its second look stays short", () => {
  const draft = { ...drawn("B1-003"), answers: { edges: { mark: "fail", fault: "raw" } } };
  assert.deepEqual(summarize(compiled, draft).allowed, ["rework", "hold", "scrap"]);
  const first = { body: inspectionBody(compiled, draft, { kind: "rework" }) };
  const again = newReinspection({ ...fields, batch: sampled, stove: "B1-003" }, [first]);
  assert.equal(again.is_short, true);
  assert.deepEqual(ids(walkParts(compiled, judged(again))), ["door"]);
});

test("a correction of a short look stays short", () => {
  const body = inspectionBody(
    compiled,
    { ...drawn("B1-003"), answers: { edges: { mark: "pass" } } },
    { kind: "release" },
  );
  const fresh_one = {
    stage: "finished",
    stove: "B1-003",
    checklist: "small-stove@2",
    inspector: "I01",
  };
  const correction = newCorrection(
    fresh_one,
    [{ id: "x", batch: "B1", checklist_hash: "h", body }],
    0,
  );
  assert.deepEqual(summarize(compiled, correction).missing, []);
});
