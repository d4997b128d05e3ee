// The walk round the stove: one part at a time, its checks, and what the thumb can do about the open one.
import * as drafts from "../inspection/draft.js";
import { judgeCheck, limitsOfMean, parseNumber } from "../inspection/judge.js";
import { answerWords, closeWords, faultSheet, limitWords, ruleWords } from "./review.js";
import {
  button,
  drawingStrip,
  formatNumber,
  h,
  page,
  pick,
  readDrawing,
  row,
  ruler,
  say,
  separator,
  shape,
  sheet,
  showTyped,
  verdictLine,
  walkRoute,
  wordOf,
} from "./view.js";

// --- Our own number pad

// These are judged only by a comparison of several readings, so a single one says nothing yet.
const NEEDS_ALL = ["mean", "range"];
const PROBLEMS = ["not-a-number", "not-whole", "impossible"];

/**
 * What a text being typed would mean: {text, problem, judgement}.
 * problem: empty, not-a-number, not-whole, impossible or null; judgement of the readings so far, or null.
 */
export function judgeTyped(check, values, index, text, context) {
  if (text === "") return { text: null, problem: "empty", judgement: null };
  const canonical = parseNumber(text);
  const all = drafts.readingsBeside(check, values, index);
  all[index] = canonical;
  const judgement = judgeCheck(
    { ...check, n: all.length },
    { [check.id]: { values: all } },
    context,
  );
  const problem = PROBLEMS.includes(judgement.reason) ? judgement.reason : null;
  const isEarly = NEEDS_ALL.includes(check.by) && all.length < check.n;
  return { text: canonical, problem, judgement: problem || isEarly ? null : judgement };
}

/** Text after a key: "," stands for the decimal mark of the region, "back" takes the last sign away. */
export function typeKey(text, key) {
  if (key === "back") return text.slice(0, -1);
  const [whole, part] = text.split(/[.,]/);
  if (key === ",") return text !== "" && part === undefined ? text + separator() : text;
  if (part === undefined ? whole.length >= 7 : part.length >= 4) return text;
  return text + key;
}

function readingChips(check, values, index, onIndex) {
  const isTwice = check.kind === "measure" && (index > 0 || values.length > 1);
  const labels = isTwice ? [say("pad.first"), say("pad.second")] : (check.labels ?? []).map(pick);
  return (
    labels.length > 0 &&
    h(
      "div",
      { class: "chips" },
      labels.map((label, i) =>
        h(
          "button",
          {
            type: "button",
            id: `ui-reading-${i}`,
            class: "chip",
            "aria-current": i === index ? "true" : null,
            disabled: i > values.length,
            onclick: () => onIndex(i),
          },
          h("span", null, label),
          h("b", null, values[i] ? showTyped(values[i]) : "·"),
        ),
      ),
    )
  );
}

/** What is typed, and what it would mean. */
function typedLine(check, text, typed, limits, isMean) {
  const { problem, judgement } = typed;
  const verdict =
    problem && problem !== "empty"
      ? verdictLine("fail", say(`pad.${problem}`))
      : judgement && verdictLine(judgement.verdict);
  return h(
    "div",
    { class: "typed" },
    h(
      "output",
      null,
      text || "–",
      h("small", null, check.unit && ` ${wordOf("unit", check.unit)}`),
    ),
    h(
      "span",
      { class: "says", "aria-live": "polite" },
      verdict ?? (limits && limitWords(limits, check.unit)),
      isMean && judgement && h("small", null, closeWords(check, judgement.value, 2)),
    ),
  );
}

function key(id, className, label, onclick, more = {}) {
  return h(
    "button",
    { type: "button", id: `ui-key-${id}`, class: `key ${className}`, onclick, ...more },
    label,
  );
}

/** The pad for the open check: every sign is stored, OK takes the reading. */
function padDock(app, check) {
  const { draft } = app;
  const { index, text } = draft.typed ?? { index: drafts.openReading(draft, check), text: "" };
  const values = draft.answers[check.id]?.values ?? [];
  const typed = judgeTyped(check, values, index, text, drafts.contextOf(draft));
  const isMean = check.kind === "measure" && index > 0;
  const limits = isMean ? limitsOfMean(check.limits[draft.size]) : check.limits[draft.size];
  const type = (change) => app.change({ ...draft, typed: { index, text, ...change } });
  const press = (sign) => () => type({ text: typeKey(text, sign) });
  const digit = (sign) => key(sign, "", formatNumber(Number(sign)), press(sign));
  const accepts = !typed.problem;
  const accept = () => {
    if (!accepts) return null;
    const next = { ...drafts.setReading(draft, check, index, typed.text), typed: null };
    return check.kind === "readings" && next.answers[check.id].values.length < check.n
      ? app.change(next)
      : settle(app, next, check);
  };
  return h(
    "div",
    { class: "pad" },
    readingChips(check, values, index, (i) => type({ index: i, text: "" })),
    typedLine(check, text, typed, limits, isMean),
    ruler(limits, typed.judgement),
    h(
      "div",
      { class: "keys" },
      "123".split("").map(digit),
      key("back", "", "⌫", press("back"), { "aria-label": say("pad.erase") }),
      "456".split("").map(digit),
      key("mark", "", separator(), press(","), {
        "aria-label": say("pad.mark"),
        disabled: check.kind === "count",
      }),
      "789".split("").map(digit),
      key("ok", "ok", say("pad.ok"), accept, { "aria-disabled": String(!accepts) }),
      digit("0"),
    ),
  );
}

// --- The walk

/** After an answer: the next open check of the part, else the next open part, else the review. */
export function advance(app, draft, check) {
  const { compiled } = app;
  const judgements = drafts.judgeDraft(compiled, draft);
  const next = drafts.nextOpenCheck(compiled, judgements, check.part, check.id);
  if (next) return app.change({ ...draft, typed: null, at: { part: check.part, check: next.id } });
  const part = drafts.nextOpenPart(compiled, judgements, check.part);
  const moved = drafts.atPart(compiled, draft, judgements, part);
  const title = pick(compiled.parts.find(({ id }) => id === check.part).title);
  app.stamp(title, drafts.judgePart(compiled, judgements, check.part));
  return app.goOn(moved);
}

/** Stores an answer; one that fails or is too close to call stays on the check, for what is wrong or a second reading. */
function settle(app, draft, check) {
  const { verdict } = drafts.judgeDraft(app.compiled, draft)[check.id];
  if (drafts.asksTwice(draft, check))
    return app.change({ ...draft, at: { part: check.part, check: check.id, sheet: "twice" } });
  if (verdict !== "fail" || check.faults.length === 0) return advance(app, draft, check);
  return app.change({
    ...draft,
    typed: null,
    at: { part: check.part, check: check.id, sheet: true },
  });
}

function tickDock(app, check, judgements) {
  const { compiled, draft } = app;
  const mark = (verdict) => () =>
    settle(app, drafts.patchAnswer(draft, check.id, { mark: verdict, fault: undefined }), check);
  const { ticks, isReady } = drafts.ticksToPass(compiled, judgements, check.part);
  const passAll = () => advance(app, drafts.passTicks(draft, ticks), ticks.at(-1));
  return [
    ticks.length > 1 &&
      isReady &&
      h(
        "button",
        { type: "button", id: "ui-all", class: "plain wide", onclick: passAll },
        shape("pass"),
        say("walk.all_pass", { n: ticks.length }),
      ),
    h(
      "div",
      { class: "judge" },
      ["pass", "fail"].map((verdict) =>
        h(
          "button",
          { type: "button", id: `ui-${verdict}`, class: `big ${verdict}`, onclick: mark(verdict) },
          shape(verdict),
          say(`verdict.${verdict}`),
        ),
      ),
    ),
  ];
}

function choiceDock(app, check) {
  const choose = (option) => () =>
    settle(
      app,
      drafts.patchAnswer(app.draft, check.id, {
        option: option.id,
        mark: undefined,
        fault: option.fault ?? undefined,
      }),
      check,
    );
  return check.options.map((option) =>
    h(
      "button",
      {
        type: "button",
        id: `ui-option-${option.id}`,
        class: "plain wide",
        onclick: choose(option),
      },
      pick(option.title),
    ),
  );
}

/** After a first reading too close to call: why, and whether to read once more. */
function twiceSheet(app, check) {
  const { draft } = app;
  const at = { part: check.part, check: check.id };
  const again = () => app.change({ ...draft, at });
  return sheet(
    say("twice.title"),
    again,
    h("p", { class: "strong" }, closeWords(check, Number(draft.answers[check.id].values[0]))),
    h("p", null, say("walk.wanted", { limits: limitWords(check.limits[draft.size], check.unit) })),
    h("p", null, say("twice.how")),
    h("p", null, ruleWords(check)),
    h(
      "div",
      { class: "dock" },
      button("twice.leave", "plain", () => advance(app, { ...draft, at }, check)),
      button("twice.go", "go", again),
    ),
  );
}

function doneDock(app, judgements, part) {
  const next = drafts.nextOpenPart(app.compiled, judgements, part);
  const go = () => app.goOn(drafts.atPart(app.compiled, app.draft, judgements, next));
  return next
    ? button("walk.next_part", "go", go, { part: pick(next.title) })
    : button("walk.to_review", "go", go);
}

function dockOf(app, check, judgements, part) {
  if (!check) return doneDock(app, judgements, part);
  if (check.kind === "tick") return tickDock(app, check, judgements);
  if (check.kind === "choice") return choiceDock(app, check);
  if (check.kind === "calculated") return doneDock(app, judgements, part);
  return padDock(app, check);
}

const cautionLine = (check) =>
  check.caution &&
  h("p", { class: "caution" }, h("b", null, say("walk.caution")), " ", pick(check.caution));

function howLine(app, check) {
  const picture = app.drawingOf({ drawing: `pictures/${check.picture}.svg` });
  return h(
    "div",
    { class: "how" },
    picture && readDrawing(picture, "picture"),
    h("p", null, pick(check.how)),
  );
}

function openRow(app, check) {
  const shown = app.howOf === check.id;
  const toggle = () => app.refresh({ howOf: shown ? null : check.id });
  const more = () =>
    app.change({ ...app.draft, at: { part: check.part, check: check.id, sheet: true } });
  return h(
    "li",
    { class: "now", id: "ui-now" },
    h(
      "div",
      { class: "now-head" },
      h("p", { class: "ask" }, pick(check.ask)),
      check.how &&
        h(
          "button",
          {
            type: "button",
            id: "ui-how",
            class: "icon",
            "aria-label": say("walk.how"),
            "aria-expanded": String(shown),
            onclick: toggle,
          },
          "?",
        ),
      h(
        "button",
        {
          type: "button",
          id: "ui-more",
          class: "icon",
          "aria-label": say("walk.more"),
          onclick: more,
        },
        "⋯",
      ),
    ),
    cautionLine(check),
    shown && howLine(app, check),
  );
}

/** What is known of a check that is not the open one. */
function stateWords(app, check, judgement) {
  if (judgement.verdict === "missing")
    return check.kind === "calculated" ? say("walk.calculated") : "";
  return [
    say(`verdict.${judgement.verdict}`),
    answerWords(check, app.draft.answers[check.id], judgement, app.draft.size),
    app.draft.carried.includes(check.id) && say("walk.carried"),
  ]
    .filter(Boolean)
    .join(" · ");
}

function checkRow(app, check, judgements, current) {
  const judgement = judgements[check.id];
  const isMissing = judgement.verdict === "missing";
  const waits = isMissing && !drafts.isOpen(check, judgements);
  const visit = () =>
    app.change({
      ...app.draft,
      typed: null,
      at: { part: check.part, check: check.id, sheet: check.kind === "calculated" && !isMissing },
    });
  const line = row({
    mark: shape(judgement.verdict),
    text: pick(check.ask),
    under: stateWords(app, check, judgement),
    onclick: waits ? null : visit,
  });
  if (isMissing && check.caution && pick(check.caution) !== pick(current?.caution))
    line.append(cautionLine(check));
  return line;
}

function partBar(app, judgements, part) {
  const parts = drafts.walkParts(app.compiled, judgements);
  const place = parts.findIndex(({ id }) => id === part);
  const step = (by, key) => {
    const target = parts[place + by];
    return h(
      "a",
      {
        class: `icon ${key}`,
        "aria-label": say(`walk.${key}`),
        href: target ? walkRoute(target.id) : by < 0 ? "#/parts" : "#/review",
      },
      h("span", { class: "chevron" }),
    );
  };
  return h(
    "div",
    { class: "part-bar" },
    step(-1, "back"),
    h(
      "h1",
      { tabindex: "-1" },
      h(
        "a",
        { href: "#/parts" },
        pick(parts[place]?.title),
        h("small", null, say("walk.place", { place: place + 1, n: parts.length })),
      ),
    ),
    step(1, "next"),
  );
}

function strip(app, judgements, part, isNear) {
  const parts = drafts.walkParts(app.compiled, judgements);
  const states = Object.fromEntries(
    parts.map(({ id }) => [id, drafts.judgePart(app.compiled, judgements, id)]),
  );
  const title = pick(parts.find(({ id }) => id === part).title);
  return h(
    "div",
    { class: "map" },
    drawingStrip({
      source: app.drawingOf(app.compiled),
      states,
      part,
      isNear,
      label: say("walk.drawing", { part: title }),
      onPick: (picked) => app.go(walkRoute(picked)),
    }),
    h(
      "a",
      { class: "over", href: "#/parts" },
      h("b", null, app.draft.stove),
      h("small", null, say("walk.parts")),
    ),
  );
}

/** The check the thumb acts on: the one the draft stands at, else the first open one of the part. */
function currentCheck(app, checks, judgements, part) {
  if (app.draft.at.part !== part) {
    const check = drafts.nextOpenCheck(app.compiled, judgements, part);
    app.keep({ ...app.draft, typed: null, at: { part, check: check?.id ?? null } });
  }
  return checks.find(({ id }) => id === app.draft.at.check) ?? null;
}

export function walkScreen(app, part) {
  if (!app.draft) return app.go("#/today");
  const { compiled } = app;
  const judgements = drafts.judgeDraft(compiled, app.draft);
  const checks = drafts.checksOfPart(compiled, judgements, part);
  if (checks.length === 0) return app.go("#/parts");
  const check = currentCheck(app, checks, judgements, part);
  const typing = Boolean(check) && ["measure", "count", "readings"].includes(check.kind);
  return h(
    "div",
    { class: `walk ${typing ? "typing" : ""}` },
    strip(app, judgements, part, typing),
    partBar(app, judgements, part),
    h(
      "ul",
      { class: "rows checks" },
      checks.map((one) =>
        one === check ? openRow(app, one) : checkRow(app, one, judgements, check),
      ),
    ),
    h("div", { class: "dock" }, dockOf(app, check, judgements, part)),
    check &&
      app.draft.at.sheet &&
      (app.draft.at.sheet === "twice"
        ? twiceSheet(app, check)
        : faultSheet(app, check, judgements[check.id], (draft) => advance(app, draft, check))),
  );
}

const isCarried = ({ compiled, draft }, part) =>
  compiled.checks.some((check) => check.part === part && draft.carried.includes(check.id));

/** Every part in walk order: the way round without the drawing. */
export function partsScreen(app) {
  if (!app.draft) return app.go("#/today");
  const judgements = drafts.judgeDraft(app.compiled, app.draft);
  return page(
    {
      title: app.draft.stove,
      back: app.draft.at.part ? walkRoute(app.draft.at.part) : "#/review",
      actions: [
        button("walk.to_review", "go", () => app.go("#/review")),
        !app.draft.is_practice && button("walk.pause", "plain", app.pause),
      ],
    },
    h(
      "ul",
      { class: "rows" },
      drafts.walkParts(app.compiled, judgements).map((part) => {
        const n = drafts.openChecks(app.compiled, judgements, part.id).length;
        const verdict = drafts.judgePart(app.compiled, judgements, part.id);
        return row({
          mark: shape(verdict),
          text: pick(part.title),
          onclick: () => app.go(walkRoute(part.id)),
          under:
            n > 0
              ? say("walk.open", { n })
              : [say(`verdict.${verdict}`), isCarried(app, part.id) && say("walk.carried")]
                  .filter(Boolean)
                  .join(" · "),
        });
      }),
    ),
    app.draft.is_short &&
      button("walk.all_checks", "plain", () => app.change({ ...app.draft, is_short: false })),
    h(
      "details",
      null,
      h("summary", null, say("walk.throw_away")),
      h("p", null, say("walk.throw_away_why")),
      button("walk.throw_away_do", "plain", app.throwAway),
    ),
  );
}
