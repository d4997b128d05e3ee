import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { test } from "node:test";

Object.defineProperty(globalThis, "navigator", {
  value: { languages: ["en-GB"] },
  configurable: true,
});
const { formatNumber, localize, t, formatDay, useLanguage } =
  await import("../../../static/phone/js/ui/words.js");
const { findGap } = await import("../../../static/phone/js/screens/review.js");
const { crewOfSteps } = await import("../../../static/phone/js/screens/next.js");
const { compiled } = await import("../inspection/small_checklist.js");

const scriptDir = new URL("../../../static/phone/js/", import.meta.url);
const words = JSON.parse(readFileSync(new URL("../words/en.json", scriptDir)));
const sources = readdirSync(scriptDir, { recursive: true })
  .filter((name) => /^(screens|sync|ui)\W.*\.js$|^\w+\.js$/.test(name))
  .map((name) => readFileSync(new URL(name, scriptDir), "utf8"))
  .join("\n");
useLanguage(words, "en");

// Families of keys that the code puts together: every member must be there.
const FAMILIES = {
  verdict: ["pass", "fail", "doubtful", "missing", "not_applicable"],
  severity: ["critical", "major", "minor"],
  disposition: [
    "none",
    ...["release", "rework", "concession", "scrap", "hold"].flatMap((kind) => [
      kind,
      `${kind}_means`,
    ]),
  ],
  pad: ["not-a-number", "not-whole", "impossible"],
  caution: ["pass", "monoxide", "hot", "load"],
  sync: [
    "sent",
    "nothing",
    "busy",
    "not-connected",
    "pair-again",
    "not-paired",
    "wait",
    "refused",
    "too-large",
    "other-protocol",
    "left",
    "wrong-network",
    "full",
  ],
  walk: ["back", "next", "how", "more"],
  review: ["failed", "doubtful", "missing", "skipped", "shortened"],
  join: ["title", "how", "code", "go", "asking"],
  pin: ["title", "how", "code", "go", "asking"],
  new_pin: ["title", "how", "code", "go", "asking"],
  // Read by the server: names of the language, its plural forms and the installed app.
  app: ["language", "plural_forms", "short_name", "description"],
  uncertainty: ["simple", "guarded"],
  limit: [
    ...["between", "at_least", "at_most", "exact"],
    ...["by_smallest", "by_largest", "by_mean", "by_range"],
  ],
  next: ["odd_prefix", "odd_range"],
  today: ["figure_done", "figure_mend", "figure_send"],
  fault: ["above", "below"],
  piece: ["fired-liner", "green-liner", "cladding", "blanks", "firing"],
  photo: ["unsent", "sent", "refused", "pruned", "elsewhere"],
  stove: ["accept", "reject"],
  export: ["not_ours", "save", "share"],
  holes: ["print", "lay", "hold", "camera_refused", "no_camera"],
  settings: ["phone", "unsent", "build", "storage", "contact"],
  not_saved: [
    "QuotaExceededError",
    "PhotosFull",
    "VersionError",
    "TimeoutError",
    "OtherTabs",
    "NoPicture",
  ],
};

test("every key the code names is in the catalogue", () => {
  const named = [...sources.matchAll(/"([a-z_]+\.[a-z_-]+)"/g)]
    .map(([, key]) => key)
    .filter((key) => !/\.(js|txt)$/.test(key));
  const families = Object.entries(FAMILIES).flatMap(([family, members]) =>
    members.map((member) => `${family}.${member}`),
  );
  const absent = [...new Set([...named, ...families])].filter((key) => !(key in words));
  assert.ok(named.length > 80);
  assert.deepEqual(absent, []);
});

test("every word of the catalogue is used", () => {
  const composed = Object.entries(FAMILIES).flatMap(([family, members]) =>
    members.map((member) => `${family}.${member}`),
  );
  const isUsed = (key) =>
    sources.includes(`"${key}"`) ||
    composed.includes(key) ||
    // tests/js/holes/refusals.test.js holds these.
    key.startsWith("holes.refused.") ||
    ["trade", "size", "unit", "reason"].includes(key.split(".")[0]);
  const idle = Object.keys(words).filter((key) => !isUsed(key));
  assert.deepEqual(idle, []);
});

test("a word with plural forms has the form for any other number", () => {
  const lame = Object.entries(words)
    .filter(([, entry]) => typeof entry !== "string" && !entry.other)
    .map(([key]) => key);
  assert.deepEqual(lame, []);
});

test("the number chooses the form and fills its place", () => {
  assert.equal(t("walk.open", { n: 1 }), "1 check open");
  assert.equal(t("walk.open", { n: 3 }), "3 checks open");
});

test("a text without the reader's language falls back to English", () => {
  assert.equal(localize({ en: "Door", fr: "Porte" }), "Door");
  assert.equal(localize(null), "");
});

test("nothing is saved before faults are named and reasons given", () => {
  const clear = { unnamed: [] };
  assert.equal(findGap({}, { unnamed: [{}] }, "rework"), "review.gap_fault");
  assert.equal(findGap({ choice: { reason: "  " } }, clear, "scrap"), "review.gap_reason");
  assert.equal(findGap({ kind: "correction" }, clear, "release"), "review.gap_correction");
  assert.equal(findGap({}, clear, null), "review.gap_disposition");
  assert.equal(findGap({ look: {} }, { unnamed: [], missing: [] }, null), null);
  assert.equal(findGap({ kind: "correction", reason: "mixed up" }, clear, "release"), null);
  assert.equal(findGap({ choice: { reason: "buyer agreed" } }, clear, "concession"), null);
});

test("the crew is written by step, and an unknown artisan is left out", () => {
  assert.deepEqual(crewOfSteps(compiled.steps, { metalwork: "A01", clay: null }), { cut: "A01" });
});

test("numbers and days are the phone's region's where it speaks the language, else the language's", () => {
  const write = (languages, tag) => {
    navigator.languages = languages;
    useLanguage(words, tag);
    return `${formatNumber(1234.5)} ${formatDay("2026-11-05T12:00:00Z")}`;
  };
  assert.equal(write(["en-GB"], "en"), "1234.5 5 Nov");
  assert.equal(write(["en-GB", "fr-CI"], "fr"), "1234,5 5 nov.");
  assert.equal(write(["en-GB"], "fr"), "1234,5 5 nov.");
  assert.equal(write(["pt-MZ"], "pt"), "1234,5 5/11");
  assert.match(write(["en-US"], "en"), /^1234\.5 Nov/);
  // No language begins with another's letters only: fil is not fi.
  assert.equal(write(["fil-PH"], "fi").split(" ")[0], "1234,5");
  navigator.languages = ["en-GB"];
  useLanguage(words, "en");
});
