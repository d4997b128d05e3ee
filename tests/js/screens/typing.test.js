import assert from "node:assert/strict";
import { test } from "node:test";
import { pressKey } from "../../../static/phone/js/screens/number_pad.js";
import { padKey } from "../../../static/phone/js/ui/typing.js";
import { newDraft } from "../../../static/phone/js/inspection/draft.js";
import { compiled, fields } from "../inspection/small_checklist.js";

// The walk goes on as the real one does: to the next check of the part that takes a number.
const NEXT = { width: "height", height: "edges" };
const open = (check) => {
  const app = {
    compiled,
    draft: { ...newDraft(fields), at: { part: "door", check } },
    changeDraft: (draft) => (app.draft = draft),
  };
  const storing = (one) => (draft) =>
    (app.draft = { ...draft, at: { part: one.part, check: NEXT[one.id] } });
  const press = (key) => pressKey(app, storing, padKey(key) ?? padKey("Enter"));
  return { app, type: (text) => [...text].map(press) };
};

test("what a caliper's adapter types, then Enter, is the reading, and the next value the next one's", () => {
  const { app, type } = open("width");
  // All of it before a screen could be painted.
  type("100\n68.5\n");
  assert.deepEqual(app.draft.answers.width.values, ["100"]);
  assert.deepEqual(app.draft.answers.height.values, ["68.5"]);
});

test("a comma is a decimal mark too, and Enter alone takes nothing", () => {
  const { app, type } = open("width");
  type("\n");
  assert.equal(app.draft.answers.width, undefined);
  type("98,5\n");
  assert.deepEqual(app.draft.answers.width.values, ["98.5"]);
});

test("a key means nothing where no number is asked for, or a sheet asks something first", () => {
  const { app, type } = open("edges");
  assert.deepEqual(type("7"), [false]);
  app.draft = { ...app.draft, at: { part: "door", check: "width", sheet: true } };
  assert.deepEqual(type("7"), [false]);
  assert.equal(app.draft.typed, undefined);
  app.draft = null;
  assert.deepEqual(type("7"), [false]);
});

test("letters and other keys are no keys of the pad", () => {
  for (const key of ["a", "F5", "Tab", " ", "-", "Shift"]) assert.equal(padKey(key), null, key);
  assert.equal(padKey("Backspace"), "back");
});
