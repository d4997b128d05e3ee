import assert from "node:assert/strict";
import { test } from "node:test";
import {
  judgeDraft,
  newCorrection,
  newDraft,
  newReinspection,
} from "../../../static/phone/js/inspection/draft.js";
import { inspectionBody, summarize } from "../../../static/phone/js/inspection/record.js";
import { checksOfPart, walkParts } from "../../../static/phone/js/inspection/walk_order.js";
import { batch, compiled, fields } from "./small_checklist.js";

const ids = (checks) => checks.map(({ id }) => id);
const judged = (draft) => judgeDraft(compiled, draft);

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
