import assert from "node:assert/strict";
import { test } from "node:test";
import { judgeDraft, newDraft } from "../../../static/phone/js/inspection/draft.js";
import {
  checksByTool,
  countToolChanges,
  findGroup,
  moveToFirstByTool,
  nextByTool,
} from "../../../static/phone/js/inspection/tool_order.js";
import { compiled, fields, good_answers } from "./small_checklist.js";

const TOOLS = { edges: "rag", swing: "hand", width: "rule", height: "rule", crack: "hand" };
const tooled = (changes = {}) => ({
  ...compiled,
  tools: ["rag", "hand", "rule"].map((id) => ({ id, title: { en: id } })),
  checks: compiled.checks.map((check) => ({
    ...check,
    tool: TOOLS[check.id],
    ...changes[check.id],
  })),
});
const judged = (checklist, answers = {}) =>
  judgeDraft(checklist, { ...newDraft(fields), answers });
const ids = (checks) => checks.map(({ id }) => id);

test("each tool is taken in hand once, what needs none first", () => {
  const checklist = tooled();
  const order = checksByTool(checklist, judged(checklist));
  const tools = order.map(({ tool }) => tool);
  assert.deepEqual([...new Set(tools)], [undefined, "rag", "hand", "rule"]);
  assert.equal(countToolChanges(order), 3);
  assert.equal(new Set(ids(order)).size, order.length);
});

test("no check comes before what makes it safe, though that costs a change of tool", () => {
  const checklist = tooled({ swing: { after: ["height"] }, edges: { after: ["swing"] } });
  const order = ids(checksByTool(checklist, judged(checklist)));
  assert.ok(order.indexOf("height") < order.indexOf("swing"));
  assert.ok(order.indexOf("swing") < order.indexOf("edges"));
});

test("a circle from a foreign file loses no check", () => {
  const checklist = tooled({ swing: { after: ["edges"] }, edges: { after: ["swing"] } });
  const order = ids(checksByTool(checklist, judged(checklist)));
  assert.ok(order.includes("swing") && order.includes("edges"));
});

test("the walk by tool ends where the walk by part does", () => {
  const checklist = tooled();
  const first = moveToFirstByTool(checklist, newDraft(fields));
  assert.equal(first.at.check, "holes", "the first that can be answered");
  assert.equal(nextByTool(checklist, judged(checklist, good_answers)), null);
  const done = moveToFirstByTool(checklist, { ...newDraft(fields), answers: { ...good_answers } });
  assert.equal(done.at.screen, "review");
});

test("one tap passes only ticks of the tool in hand", () => {
  const gentle = tooled({ edges: { severity: "minor" } });
  const byId = Object.fromEntries(gentle.checks.map((check) => [check.id, check]));
  assert.deepEqual(findGroup(gentle, judged(gentle), "door", byId.swing), []);
  const same = tooled({ edges: { severity: "minor", tool: "hand" } });
  const swing = same.checks.find(({ id }) => id === "swing");
  assert.deepEqual(ids(findGroup(same, judged(same), "door", swing)), ["edges", "swing"]);
  assert.deepEqual(findGroup(same, judged(same), "door", null), [], "readings are open");
});
