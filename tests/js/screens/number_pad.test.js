import assert from "node:assert/strict";
import { test } from "node:test";
import { readFileSync } from "node:fs";

Object.defineProperty(globalThis, "navigator", {
  value: { languages: ["fr-FR"] },
  configurable: true,
});
const { judgeTyped, applyKey } = await import("../../../static/phone/js/screens/number_pad.js");
const { answerWords, excessWords, uncertaintyWords, limitWords } =
  await import("../../../static/phone/js/screens/answer_words.js");
const { mayBecome } = await import("../../../static/phone/js/inspection/number.js");
const { rulerRange } = await import("../../../static/phone/js/ui/ruler.js");
const { useLanguage } = await import("../../../static/phone/js/ui/words.js");
const { compiled } = await import("../inspection/small_checklist.js");

useLanguage(
  JSON.parse(readFileSync(new URL("../../../static/phone/words/en.json", import.meta.url))),
  "fr",
);
const byId = Object.fromEntries(compiled.checks.map((check) => [check.id, check]));
const context = { size: "medium", batch: {} };
const typed = (id, text, values = [], index = 0) =>
  judgeTyped(byId[id], values, index, text, context);

test("keys build a number with the region's mark, once and never first", () => {
  const press = (keys) => keys.split("").reduce((text, key) => applyKey(text, key), "");
  assert.equal(press("12,5"), "12,5");
  assert.equal(press(",5"), "5");
  assert.equal(press("1,2,3"), "1,23");
  assert.equal(applyKey("12,5", "back"), "12,");
  assert.equal(applyKey("", "back"), "");
});

test("no more than seven digits before and four after the mark can be typed", () => {
  assert.equal(applyKey("1234567", "8"), "1234567");
  assert.equal(applyKey("1,2345", "6"), "1,2345");
});

test("a typed comma means the same as a point", () => {
  assert.deepEqual(
    [typed("width", "99,5").text, typed("width", "99,5").judgement.verdict],
    ["99.5", "pass"],
  );
});

test("a value between limit and guard is doubtful, on the limit too", () => {
  assert.equal(typed("width", "103").judgement.verdict, "doubtful");
  assert.equal(typed("width", "102").judgement.verdict, "pass");
  assert.equal(typed("width", "104").judgement.verdict, "fail");
});

test("an unfinished, an impossible and a broken count are told apart and have no verdict", () => {
  assert.equal(typed("width", "").problem, "empty");
  assert.equal(typed("width", "12,").problem, "unfinished");
  assert.equal(typed("width", "999").problem, "impossible");
  assert.equal(typed("holes", "18,5").problem, "not-whole");
  assert.equal(typed("width", "999").judgement, null);
});

test("what more digits may make a reading of is not called impossible", () => {
  const bounds = { lower: 30, upper: 250 };
  const may = { 1: true, 2: true, 9: true, 10: true, 30: true, 250: true, "29,9999": false };
  Object.assign(may, { 251: false, 26: false, 300: false, "250,": true, "250,1": false });
  Object.assign(may, { "29,9": false, "29,": false, "0": true, "00": true, 9999999: false });
  for (const [text, wanted] of Object.entries(may)) assert.equal(mayBecome(text, bounds), wanted, text);
  assert.equal(mayBecome("29,9", { lower: 29.95, upper: 250 }), true);
  assert.equal(mayBecome("29,9000", { lower: 29.95, upper: 250 }), false);
  assert.equal(mayBecome("", bounds), false);
  const wide = { ...byId.width, possible: bounds };
  const problemOf = (text) => judgeTyped(wide, [], 0, text, context).problem;
  assert.deepEqual(["1", "10", "106", "300", "12,"].map(problemOf), [
    "unfinished",
    "unfinished",
    null,
    "impossible",
    "not-a-number",
  ]);
});

test("what is counted is too many or too few, not too much of a unit in the plural", () => {
  const holes = { ...byId.width, unit: "holes", limits: { medium: { lower: 19, upper: 19 } } };
  const told = (check, value, reason) =>
    excessWords(check, { verdict: "fail", reason, value }, "medium");
  assert.equal(told(holes, 18, "below-lower"), "1 too few");
  assert.equal(told({ ...holes, unit: "days" }, 21, "above-upper"), "2 too many");
  assert.equal(told({ ...holes, unit: "mm" }, 20, "above-upper"), "1 mm too much");
});

test("several readings are judged together as far as they go", () => {
  assert.equal(typed("margin", "12").judgement.verdict, "pass");
  assert.equal(typed("margin", "12", ["9"], 1).judgement.verdict, "fail");
});

test("the second reading of a measure is shown by the mean, the first typed again by itself", () => {
  assert.deepEqual(typed("width", "98,5", ["97.5"], 1).judgement, {
    verdict: "pass",
    reason: "within",
    value: 98,
  });
  assert.equal(typed("width", "97,1", ["97.1"], 1).judgement.verdict, "doubtful");
  assert.equal(typed("width", "100", ["97.5", "98.5"], 0).judgement.value, 100);
});

test("a reading and a mean are told with the uncertainty they have", () => {
  // sqrt(0.8^2 - 0.6^2 / 2), worked out by hand: 0.678.
  const repeated = { ...byId.width, repeatability: 0.6 };
  assert.equal(uncertaintyWords(repeated, 97.5), "97,5 ± 0,8 mm");
  assert.equal(uncertaintyWords(repeated, 97.75, 2), "mean 97,75 ± 0,68 mm");
  assert.equal(uncertaintyWords(byId.width, 97.75, 2), "mean 97,75 ± 0,8 mm");
});

test("two readings are told with their mean, a doubtful one with its rule", () => {
  const words = answerWords(
    byId.width,
    { values: ["97", "97.5"] },
    { verdict: "doubtful", value: 97.25 },
    "medium",
  );
  const rule = "Rule: simple acceptance, guard factor 1. Doubtful passes and is shown apart.";
  assert.equal(words, `97 · 97,5 mm · mean 97,25 ± 0,8 mm · ${rule}`);
  const guarded = { ...byId.width, decision: "guarded", guard_factor: 0.825 };
  assert.match(
    answerWords(guarded, { values: ["97"] }, { verdict: "doubtful", value: 97 }, "medium"),
    /guarded acceptance, guard factor 0,825. Doubtful counts as a fail/,
  );
});

test("a range or mean has no verdict before its last reading", () => {
  const range = {
    ...byId.margin,
    by: "range",
    limits: {
      medium: { lower: null, nominal: null, upper: 3, accept_lower: null, accept_upper: 3 },
    },
  };
  assert.equal(judgeTyped(range, [], 0, "12", context).judgement, null);
  assert.equal(judgeTyped(range, ["12"], 1, "16", context).judgement.verdict, "fail");
});

test("the ruler shows room on both sides of the limits, also for an exact count and for one limit", () => {
  assert.deepEqual(rulerRange({ lower: 97, nominal: 100, upper: 103 }), { from: 94, to: 106 });
  const exact = rulerRange({ lower: 19, nominal: 19, upper: 19 });
  assert.ok(exact.from <= 17 && exact.to >= 21);
  const least = rulerRange({ lower: 10, nominal: null, upper: null });
  assert.ok(least.from < 10 && least.to > 10);
  const most = rulerRange({ lower: null, nominal: null, upper: 3 });
  assert.ok(most.from < 3 && most.to > 3);
  const fromZero = rulerRange({ lower: 0, nominal: 0, upper: 0 });
  assert.ok(fromZero.to > fromZero.from);
});

test("limits are said in words, with the region's mark", () => {
  const mm = { kind: "measure", unit: "mm" };
  assert.equal(limitWords({ lower: 97, upper: 103.5 }, mm), "97 to 103,5 mm");
  assert.equal(limitWords({ lower: 19, upper: 19 }, { kind: "count", unit: "" }), "exactly 19");
  const count = { kind: "count", unit: "rivets" };
  assert.equal(limitWords({ lower: 19, upper: 19 }, count), "exactly 19 rivets");
  assert.equal(limitWords({ lower: 1, upper: 1 }, count), "rivets: exactly 1");
  assert.equal(limitWords({ lower: 1, upper: null }, count), "rivets: at least 1");
  assert.equal(limitWords({ lower: 1, upper: 3 }, count), "1 to 3 rivets");
  assert.equal(limitWords({ lower: 1, upper: null }, mm), "at least 1 mm");
  assert.equal(limitWords({ lower: 10, upper: null }, mm), "at least 10 mm");
  assert.equal(limitWords({ lower: null, upper: 3 }, mm), "at most 3 mm");
  const several = (by) => limitWords({ lower: null, upper: 3 }, { kind: "readings", unit: "mm", by });
  assert.equal(several("range"), "difference: at most 3 mm");
  assert.equal(several("mean"), "mean: at most 3 mm");
  assert.equal(several("largest"), "each at most 3 mm");
});

test("an answer is told by its readings, fault and note", () => {
  const judgement = { verdict: "fail", value: 9 };
  assert.equal(
    answerWords(
      byId.margin,
      { values: ["9.5", "12"], fault: "too-near", note: "left" },
      judgement,
      "medium",
    ),
    "9,5 · 12 mm · too-near · left",
  );
  const range = { ...byId.margin, by: "range" };
  assert.equal(
    answerWords(range, { values: ["9.5", "12"] }, { verdict: "pass", value: 2.5 }, "medium"),
    "9,5 · 12 mm · difference: 2,5 mm",
  );
});
