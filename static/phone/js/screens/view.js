// What every screen is made of: elements, words, numbers, verdict shapes, the drawing. No text lives in code.

let catalogue = {};
let language;
let locale;
let plurals;
const WRITTEN = { maximumFractionDigits: 4, useGrouping: false, numberingSystem: "latn" };
// Made once a language: the pad writes twenty numbers at every tap.
let numbers = new Intl.NumberFormat("en", WRITTEN);

const isOf = (locale, tag) => `${locale}-`.startsWith(`${tag}-`);

/** Takes the words of one language: {key: text | {one, other, ...}}; numbers and days as where the phone's own region speaks it. */
export function useWords(words, tag) {
  catalogue = words;
  language = tag;
  locale = navigator.languages.find((one) => isOf(one, tag)) ?? tag;
  plurals = new Intl.PluralRules(tag);
  numbers = new Intl.NumberFormat(locale, WRITTEN);
}

/** Links of the page to the words of each language (qcapp/web/shell.py): hreflang, dir, title (its own name for itself), href. */
const listLanguages = () => [...document.querySelectorAll("link[hreflang]")];

/** The one chosen, else the first of the phone's own that is here, a region served by its language when it has no words; else English. */
export function findLanguage(chosen) {
  const all = listLanguages();
  return (
    [chosen, ...navigator.languages].flatMap((tag) =>
      all.filter(({ hreflang }) => isOf(tag, hreflang)).reverse(),
    )[0] ?? all[0]
  );
}

/** Each language by its own name, so that it is found by whoever cannot read the one that shows. */
export function languageChoice(app) {
  return h(
    "p",
    { class: "chips" },
    listLanguages().map(({ hreflang, title }) =>
      h(
        "button",
        {
          type: "button",
          class: "chip",
          lang: hreflang,
          "aria-pressed": String(hreflang === language),
          onclick: () => app.speak(hreflang),
        },
        title,
      ),
    ),
  );
}

/** The word for a name that comes from elsewhere, or what stands for one that has none. */
export const wordOf = (family, name, other = name, params = {}) =>
  `${family}.${name}` in catalogue ? say(`${family}.${name}`, params) : other;

/** The text for a key; {name} is filled from params, params.n chooses the plural form. */
export function say(key, params = {}) {
  const entry = catalogue[key] ?? key;
  const text = typeof entry === "string" ? entry : (entry[plurals.select(params.n)] ?? entry.other);
  return text.replace(/\{(\w+)\}/g, (_, name) => {
    const value = params[name];
    return typeof value === "number" ? formatNumber(value) : (value ?? "");
  });
}

/** Why the server does not count or take something, {code, params}; a code without words by its plain name. */
export function sayReason({ code, params = {} }) {
  const shown = Object.entries(params).map(([name, value]) => {
    if (name === "kind") return [name, wordOf("disposition", value)];
    return [name, Array.isArray(value) ? value.join(", ") : value];
  });
  return wordOf("reason", code, code.replaceAll("_", " "), Object.fromEntries(shown));
}

/** The reader's language of a checklist text {en, fr?, ...}. */
export function pick(text) {
  return text ? (text[language] ?? text.en) : "";
}

/** The decimal mark of the language, in this phone's region. */
export function separator() {
  return formatNumber(1.5).includes(".") ? "." : ",";
}

export const formatNumber = (value) => numbers.format(value);

/** A canonical typed number ("12.50") with that decimal mark. */
export function showTyped(text) {
  return text.replace(/[.,]/, separator());
}

/** A UTC time as this phone's clock shows it. */
export function showTime(iso) {
  return new Date(iso).toLocaleTimeString(locale, {
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
}

export function showDay(iso) {
  return new Date(iso).toLocaleDateString(locale, { day: "numeric", month: "short" });
}

function fill(element, attrs, children) {
  for (const [name, value] of Object.entries(attrs ?? {})) {
    if ((value ?? false) === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(2).filter(Boolean));
  return element;
}

/** An element: h("button", {class, onclick}, ...children); empty children are left out. */
export function h(tag, attrs, ...children) {
  return fill(document.createElement(tag), attrs, children);
}

/** The same for the parts of a drawing. */
export function s(tag, attrs, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attrs, children);
}

export function button(key, className, onclick, params, more = {}) {
  return h("button", { type: "button", class: className, onclick, ...more }, say(key, params));
}

/** Outline and inner stroke of a verdict, drawn in index.html: told apart by form alone, without colour. */
const shapeParts = (verdict) => [
  ...document.querySelector("#shapes").content.querySelector(`.${verdict}`).cloneNode(true)
    .children,
];

/** The mark of a verdict; the word must stand beside it or be read out by its label. */
export function shape(verdict) {
  return s(
    "svg",
    { class: `shape ${verdict}`, viewBox: "0 0 24 24", "aria-hidden": "true" },
    shapeParts(verdict),
  );
}

/** Mark and word. */
export function verdictLine(verdict, word = say(`verdict.${verdict}`)) {
  return h("span", { class: `verdict ${verdict}` }, shape(verdict), h("b", null, word));
}

/** A page with its title, a way back and its actions at the thumb. */
export function page({ title, back, actions = [], className = "" }, ...content) {
  return h(
    "div",
    { class: `page ${className}` },
    h(
      "header",
      { class: "head" },
      back &&
        h(
          "a",
          { class: "back", href: back, "aria-label": say("page.back") },
          h("span", { class: "chevron" }),
        ),
      h("h1", { tabindex: "-1" }, title),
    ),
    h("div", { class: "content" }, content),
    actions.length > 0 && h("div", { class: "dock" }, actions),
  );
}

/** A row of a list: mark, two lines of text, what follows on a tap. With `pressed` it is one choice of several. */
export function row({ mark, text, under, onclick, pressed, ...attrs }) {
  const isChoice = pressed !== undefined;
  const inside = [
    isChoice ? h("span", { class: "radio" }) : mark,
    h("span", { class: "row-text" }, h("span", null, text), under && h("small", null, under)),
  ];
  if (!onclick) return h("li", { class: "row" }, inside);
  return h(
    "li",
    null,
    h(
      "button",
      {
        type: "button",
        class: "row",
        onclick,
        "aria-pressed": isChoice && String(pressed),
        ...attrs,
      },
      inside,
    ),
  );
}

/** A sheet over the walk; the phone's own way back does what `close` does. */
export function sheet(title, close, ...content) {
  return h(
    "dialog",
    {
      "aria-labelledby": "ui-sheet-title",
      oncancel: (event) => {
        event.preventDefault();
        close();
      },
    },
    h("h2", { id: "ui-sheet-title", tabindex: "-1", autofocus: true }, title),
    content,
  );
}

/** Where a few words are typed; `onchange(text)` follows every sign. */
export function wordsField(id, text, onchange) {
  return h(
    "textarea",
    { id, rows: 2, maxlength: 500, oninput: ({ target }) => onchange(target.value) },
    text ?? "",
  );
}

export const walkRoute = (part) => `#/walk/${encodeURIComponent(part)}`;

/** Where a draft goes on: its part, or the review. */
export const draftRoute = (draft) =>
  draft.at.screen === "review" ? "#/review" : walkRoute(draft.at.part);

// --- The drawing of the stove as the map: parts light up, carry their verdict and can be tapped.

const PART_CLASS = { pass: "done", fail: "failed", doubtful: "doubtful", missing: "open" };
const TAP_REACH_PX = 44;
// Height of a verdict's mark.
const MARK_SHARE = 0.1;
let drawn = {};

/** An SVG text as a tree of this page. The server takes in none that could run or lead out (qcapp/checklist/drawing.py). */
export function readDrawing(source, name) {
  const svg = document.importNode(
    new DOMParser().parseFromString(source, "image/svg+xml").documentElement,
    true,
  );
  return fill(svg, { class: name, "aria-hidden": "true" }, []);
}

/** Where a part is; asked of the page once, because each answer makes it lay itself out. */
function boxOf(part) {
  drawn.boxes[part] ??= measureBox(drawn.svg, part);
  return drawn.boxes[part];
}

/** In the drawing's own units: the part's first area for the thumb, else its own outline. */
function measureBox(svg, part) {
  const element = svg.getElementById(part);
  const area = element?.querySelector(".hit") ?? element;
  if (!area) return null;
  const { x, y, width, height } = area.getBBox();
  const { a, d, e, f } = svg.getScreenCTM().inverse().multiply(area.getScreenCTM());
  return { x: a * x + e, y: d * y + f, width: a * width, height: d * height };
}

function placeMarks(svg, states, whole) {
  const size = whole[3] * MARK_SHARE;
  const marks = Object.entries(states)
    .filter(([, verdict]) => verdict !== "missing")
    .map(([part, verdict]) => {
      const box = boxOf(part);
      if (!box) return "";
      const place = `translate(${box.x + (box.width - size) / 2} ${box.y + (box.height - size) / 2}) scale(${size / 24})`;
      return s("g", { class: `mark ${verdict}`, transform: place }, shapeParts(verdict));
    });
  svg.querySelector(".marks").replaceChildren(...marks);
}

function aim(svg, part, whole, isNear) {
  const box = isNear && boxOf(part);
  // Half as much again of the surroundings stays in sight.
  const view = box
    ? [box.x - box.width / 4, box.y - box.height / 4, box.width * 1.5, box.height * 1.5]
    : whole;
  svg.setAttribute("viewBox", view.join(" "));
  svg.setAttribute("preserveAspectRatio", box ? "xMidYMid meet" : "xMaxYMid meet");
}

/** The part under a tap, or the nearest one a thumb may have meant; null when none is near. */
function partAt(svg, parts, x, y) {
  const hit = document.elementFromPoint(x, y)?.closest?.("[id]");
  if (hit && parts.includes(hit.id)) return hit.id;
  const gapTo = ({ left, right, top, bottom }) =>
    Math.hypot(x - (left + right) / 2, y - (top + bottom) / 2);
  const near = parts
    .filter((part) => svg.getElementById(part))
    .map((part) => ({ part, gap: gapTo(svg.getElementById(part).getBoundingClientRect()) }))
    .sort((a, b) => a.gap - b.gap)[0];
  return near && near.gap <= TAP_REACH_PX ? near.part : null;
}

/**
 * The drawing with one part lit and each finished part marked. states: {part id: verdict}, all parts
 * there are to walk; onPick(part id) follows a tap. The list of parts serves those who do not see it.
 */
export function drawingStrip({ source, states, part, label, isNear, onPick }) {
  if (!source) return h("div", { class: "strip" });
  if (drawn.source !== source) {
    const svg = readDrawing(source, "drawing");
    drawn = {
      source,
      svg,
      boxes: {},
      whole: svg
        .getAttribute("viewBox")
        .split(/[\s,]+/)
        .map(Number),
    };
    svg.append(s("g", { class: "marks" }));
  }
  const { svg, whole } = drawn;
  for (const [id, verdict] of Object.entries(states)) {
    svg
      .getElementById(id)
      ?.setAttribute("class", `part ${PART_CLASS[verdict]}${id === part ? " lit" : ""}`);
  }
  const shown = JSON.stringify([states, part, isNear]);
  requestAnimationFrame(() => {
    if (!svg.isConnected || drawn.shown === shown) return;
    placeMarks(svg, states, whole);
    aim(svg, part, whole, isNear);
    drawn.shown = shown;
  });
  const pickPart = (event) => {
    const picked = partAt(svg, Object.keys(states), event.clientX, event.clientY);
    if (picked) onPick(picked);
  };
  return h("div", { class: "strip", role: "img", "aria-label": label, onclick: pickPart }, svg);
}

// --- The ruler: where a value falls between the limits.

const RULER_WIDTH = 320;
const RULER_EDGE = 18;

/** The stretch of numbers the ruler shows: the limits with half their width on both sides. */
export function rulerRange({ lower, nominal, upper }) {
  const low = lower ?? Math.min(nominal ?? upper, upper) * 0.5;
  const high = upper ?? Math.max(nominal ?? lower, lower) * 1.5;
  const margin = Math.max((high - low) / 2, high === low ? Math.max(2, Math.abs(high) * 0.05) : 0);
  return { from: low - margin, to: high + margin };
}

const placeOn = ({ from, to }, value) => {
  const share = Math.min(1, Math.max(0, (value - from) / (to - from || 1)));
  return RULER_EDGE + share * (RULER_WIDTH - 2 * RULER_EDGE);
};

function limitPost(range, value) {
  const x = placeOn(range, value);
  return [
    s("path", { d: `M${x} 20v22`, class: "post" }),
    s("text", { x, y: 58, "text-anchor": "middle" }, formatNumber(value)),
  ];
}

function guardZone(range, from, to) {
  if (from === null || to === null || from === to) return null;
  const [left, right] = [placeOn(range, from), placeOn(range, to)];
  return s("rect", { x: left, y: 25, width: right - left, height: 12, class: "guard" });
}

function rulerMark(range, judgement) {
  const x = placeOn(range, judgement.value);
  return s(
    "g",
    { class: `mark ${judgement.verdict}`, transform: `translate(${x - 12} 0)` },
    shapeParts(judgement.verdict),
    s("path", { d: "M12 23v16", class: "pointer" }),
  );
}

/** Drawing of limits, guard zones and the value; the words beside it say the same. */
export function ruler(limits, judgement) {
  if (!limits) return null;
  const range = rulerRange(limits);
  const { lower, upper, accept_lower, accept_upper } = limits;
  const left = placeOn(range, lower ?? range.from);
  const right = placeOn(range, upper ?? range.to);
  const isExact = lower !== null && lower === upper;
  return s(
    "svg",
    { class: "ruler", viewBox: `0 0 ${RULER_WIDTH} 62`, "aria-hidden": "true" },
    s("path", { d: `M0 31h${RULER_WIDTH}`, class: "base" }),
    s("rect", { x: left, y: 25, width: Math.max(right - left, 2), height: 12, class: "allowed" }),
    guardZone(range, lower, accept_lower),
    guardZone(range, accept_upper, upper),
    lower !== null && limitPost(range, lower),
    upper !== null && !isExact && limitPost(range, upper),
    judgement && judgement.value !== null && rulerMark(range, judgement),
  );
}
