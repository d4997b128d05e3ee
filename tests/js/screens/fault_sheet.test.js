import assert from "node:assert/strict";
import { test } from "node:test";
import { dockOf } from "../../../static/phone/js/screens/answer_dock.js";
import { faultSheet } from "../../../static/phone/js/screens/fault_sheet.js";
import { listAll, listOfClass, usePage } from "./document.js";

usePage();

const DRAWINGS = {
  "pictures/loose.svg": "<svg>loose</svg>",
  "pictures/cracked.svg": "<svg>cracked</svg>",
};
const fault = (id, picture, side = null) => ({ id, title: { en: id }, side, picture });
const TICK = {
  id: "rivets-tight",
  kind: "tick",
  part: "rivets",
  severity: "critical",
  when: {},
  ask: { en: "Rivets tight" },
  faults: [fault("rivet-loose", "loose"), fault("rivet-cracked", "cracked")],
};
const option = (id, picture, verdict) => ({ id, title: { en: id }, verdict, fault: null, picture });
const CHOICE = {
  ...TICK,
  id: "cracks",
  kind: "choice",
  options: [option("none", "loose", "pass"), option("open", "cracked", "fail")],
};
const FAILED = { verdict: "fail", reason: "marked" };

function openApp(check, answer = { mark: "fail" }) {
  const app = {
    draft: {
      size: "medium", batch_attributes: {}, carried: [],
      answers: { [check.id]: answer },
      at: { part: check.part, sheet: true },
    },
    compiled: {
      drawing: "stove.svg", parts: [], steps: [], checks: [check], sizes: ["medium"],
    },
    drawingOf: (name) => DRAWINGS[name],
    changeDraft: (draft) => { app.draft = draft; },
    showDraft: (draft) => { app.draft = draft; },
    showAnswer: () => {},
  };
  return app;
}

const tilesOf = (element) => listOfClass(element, "look");
const pictureIn = (tile) => listAll(tile).find(({ tag }) => tag === "svg");
const openSheet = (app, check, judged = FAILED) => faultSheet(app, check, judged, () => {});

test("each fault is its picture above its words, and a tap names it", () => {
  const app = openApp(TICK);
  const tiles = tilesOf(openSheet(app, TICK));
  assert.deepEqual(
    tiles.map((tile) => [tile.getAttribute("id"), tile.textContent, pictureIn(tile).source]),
    [
      ["ui-fault-rivet-loose", "rivet-loose", DRAWINGS["pictures/loose.svg"]],
      ["ui-fault-rivet-cracked", "rivet-cracked", DRAWINGS["pictures/cracked.svg"]],
    ],
  );
  for (const tile of tiles) {
    assert.equal(pictureIn(tile).getAttribute("aria-hidden"), "true", "the words are read out");
    const inside = tile.children.map(({ tag }) => tag);
    assert.ok(inside.indexOf("svg") < inside.lastIndexOf("span"), "picture first");
    tile.taps[0]();
  }
  const { fault: first, more_faults: more } = app.draft.answers["rivets-tight"];
  assert.deepEqual([first, more], ["rivet-cracked", undefined], "each tile knows its own fault");
  const pressed = tilesOf(openSheet(app, TICK)).map((tile) => tile.getAttribute("aria-pressed"));
  assert.deepEqual(pressed, ["false", "true"]);
});

test("a checklist without pictures has rows of words", () => {
  const faults = TICK.faults.map((one) => ({ ...one, picture: undefined }));
  const sheet = openSheet(openApp(TICK), { ...TICK, faults });
  assert.equal(tilesOf(sheet).length, 0);
  assert.deepEqual(
    listOfClass(sheet, "row").map((row) => row.getAttribute("id")),
    ["ui-fault-rivet-loose", "ui-fault-rivet-cracked"],
  );
});

test("a picture that this phone lacks leaves its words among the others", () => {
  const faults = [fault("rivet-loose", "not-here"), TICK.faults[1]];
  const tiles = tilesOf(openSheet(openApp(TICK), { ...TICK, faults }));
  assert.deepEqual(tiles.map((tile) => pictureIn(tile)?.source), [
    undefined,
    DRAWINGS["pictures/cracked.svg"],
  ]);
  assert.equal(tiles[0].textContent, "rivet-loose");
});

test("what cannot be measured has a picture of its own", () => {
  const judged = { verdict: "fail", reason: "cannot-measure" };
  const [tile, ...more] = tilesOf(openSheet(openApp(TICK), { ...TICK, faults: [] }, judged));
  assert.equal(tile.getAttribute("id"), "ui-fault-cannot-measure");
  assert.ok(pictureIn(tile));
  assert.deepEqual(more, []);
});

test("options are chosen by their pictures, and without any by words", () => {
  const app = openApp(CHOICE, {});
  const tiles = tilesOf(dockOf(app, CHOICE, {}, CHOICE.part));
  assert.deepEqual(
    tiles.map((tile) => [tile.getAttribute("id"), pictureIn(tile).source]),
    [
      ["ui-option-none", DRAWINGS["pictures/loose.svg"]],
      ["ui-option-open", DRAWINGS["pictures/cracked.svg"]],
    ],
  );
  assert.ok(tiles.every((tile) => tile.getAttribute("aria-pressed") === null), "a tap answers");
  tiles[1].taps[0]();
  assert.equal(app.draft.answers.cracks.option, "open");
  const options = CHOICE.options.map(({ picture: _, ...one }) => one);
  const plain = dockOf(app, { ...CHOICE, options }, {}, CHOICE.part);
  assert.deepEqual(plain.map((one) => one.getAttribute("class")), ["plain wide", "plain wide"]);
});
