// The drawing of the stove as the map: parts light up, carry their verdict and can be tapped.
import { fill, h, s } from "./dom.js";
import { shapeParts } from "./verdict.js";

const PART_CLASS = { pass: "done", fail: "failed", doubtful: "doubtful", missing: "open" };
const TAP_REACH_PX = 44;
// Height of a verdict's mark.
const MARK_SHARE = 0.1;

/**
 * The drawing that shows: read once, because reading it and asking where its parts are takes long.
 * @type {Drawing | null}
 */
let drawn = null;

/**
 * An SVG text as a tree of this page. The server takes in none that could run or lead out
 * (qcapp/checklist/drawing.py).
 * @param {string} source
 * @param {string} name
 */
export function readDrawing(source, name) {
  const parsed = new DOMParser().parseFromString(source, "image/svg+xml").documentElement;
  const svg = /** @type {any} */ (document.importNode(parsed, true));
  return fill(/** @type {SVGSVGElement} */ (svg), { class: name, "aria-hidden": "true" }, []);
}

/** @param {string} source */
function openDrawing(source) {
  if (drawn?.source === source) return drawn;
  const svg = readDrawing(source, "drawing");
  const marks = s("g", { class: "marks" });
  svg.append(marks);
  const whole = (svg.getAttribute("viewBox") ?? "").split(/[\s,]+/).map(Number);
  const strip = h("div", { class: "strip", role: "img" }, svg);
  const opened = { source, svg, strip, marks, boxes: {}, whole };
  // A short screen hides it while numbers are typed, and a turned phone shows it again.
  new ResizeObserver(() => place(opened)).observe(svg);
  drawn = opened;
  return drawn;
}

/**
 * Where a part is; asked of the page once, because each answer makes it lay itself out.
 * @param {Drawing} drawing
 * @param {string} part
 */
function boxOf({ svg, boxes }, part) {
  if (!(part in boxes)) boxes[part] = measureBox(svg, `#${CSS.escape(part)}`);
  return boxes[part];
}

/**
 * In the drawing's own units: the part's first area for the thumb, else its own outline.
 * @param {SVGSVGElement} svg
 * @param {string} selector
 * @returns {Box | null}
 */
export function measureBox(svg, selector) {
  const element = svg.querySelector(selector);
  const area = /** @type {SVGGraphicsElement | null} */ (element?.querySelector(".hit") ?? element);
  if (!area) return null;
  const [page, own] = [svg.getScreenCTM(), area.getScreenCTM()];
  if (!page || !own) return null;
  const { x, y, width, height } = area.getBBox();
  const { a, d, e, f } = page.inverse().multiply(own);
  return { x: a * x + e, y: d * y + f, width: a * width, height: d * height };
}

/**
 * @param {Drawing} drawing
 * @param {PartStates} states
 */
function placeMarks(drawing, states) {
  const size = drawing.whole[3] * MARK_SHARE;
  const marks = Object.entries(states).flatMap(([part, verdict]) => {
    const box = boxOf(drawing, part);
    if (!box || !verdict || verdict === "missing") return [];
    const x = box.x + (box.width - size) / 2;
    const y = box.y + (box.height - size) / 2;
    const transform = `translate(${x} ${y}) scale(${size / 24})`;
    const attrs = { class: `mark ${verdict}`, "data-part": part, transform };
    return s("g", attrs, shapeParts(verdict));
  });
  drawing.marks.replaceChildren(...marks);
}

/**
 * With half as much again of the surroundings.
 * @param {Box} box
 */
const nearView = ({ x, y, width, height }) => [
  x - width / 4,
  y - height / 4,
  width * 1.5,
  height * 1.5,
];

/**
 * A view as wide as its place allows, moved so that as little as can be is beyond the drawing.
 * @param {number[]} view x, y, width, height
 * @param {number[]} whole
 * @param {number} ratio width by height of its place
 */
export function fitInto([x, y, width, height], whole, ratio) {
  const wide = Math.max(width, height * ratio);
  const middle = x + width / 2 - wide / 2;
  const last = whole[0] + whole[2] - wide;
  // One that is wider than the drawing has it in its middle.
  const left =
    last < whole[0] ? (whole[0] + last) / 2 : Math.min(last, Math.max(whole[0], middle));
  return [left, y, wide, height];
}

/**
 * Shows the whole, or one part with half as much again of its surroundings.
 * @param {Drawing} drawing
 * @param {string} part
 * @param {boolean} isNear
 */
function aim(drawing, part, isNear) {
  const box = isNear && boxOf(drawing, part);
  const view = box ? nearView(box) : drawing.whole;
  drawing.svg.setAttribute("viewBox", view.join(" "));
  drawing.svg.setAttribute("preserveAspectRatio", box ? "xMidYMid meet" : "xMaxYMid meet");
}

/**
 * The part under a tap, or the nearest one a thumb may have meant; null when none is near.
 * @param {SVGSVGElement} svg
 * @param {string[]} parts
 * @param {number} x
 * @param {number} y
 */
function partAt(svg, parts, x, y) {
  const hit = document.elementFromPoint(x, y)?.closest("[id]");
  if (hit && parts.includes(hit.id)) return hit.id;
  const gapTo = (/** @type {DOMRect} */ { left, right, top, bottom }) =>
    Math.hypot(x - (left + right) / 2, y - (top + bottom) / 2);
  const near = parts
    .flatMap((part) => {
      const element = svg.getElementById(part);
      return element ? { part, gap: gapTo(element.getBoundingClientRect()) } : [];
    })
    .sort((a, b) => a.gap - b.gap)
    .at(0);
  return near && near.gap <= TAP_REACH_PX ? near.part : null;
}

/**
 * @param {Drawing} drawing
 * @param {PartStates} states
 * @param {string} part
 * @param {boolean} isNear
 */
function paint(drawing, states, part, isNear) {
  for (const [id, verdict] of Object.entries(states)) {
    const lit = id === part ? " lit" : "";
    const name = `part ${PART_CLASS[verdict ?? "missing"]}${lit}`;
    drawing.svg.getElementById(id)?.setAttribute("class", name);
  }
  if (JSON.stringify(drawing.wanted) === JSON.stringify({ states, part, isNear })) return;
  drawing.wanted = { states, part, isNear };
  requestAnimationFrame(() => place(drawing));
}

/**
 * Marks and view as wanted; not before it shows, because what is hidden has no place to measure.
 * @param {Drawing} drawing
 */
function place(drawing) {
  const { svg, wanted, shown } = drawing;
  if (!wanted || wanted === shown || svg.getClientRects().length === 0) return;
  placeMarks(drawing, wanted.states);
  aim(drawing, wanted.part, wanted.isNear);
  drawing.shown = wanted;
}

/**
 * The drawing with one part lit and each finished part marked. states: all parts there are to walk;
 * onPick(part id) follows a tap. The list of parts serves those who do not see it.
 * @param {DrawingMap} map
 */
export function drawingMap({ source, states, part, label, isNear, onPick }) {
  if (!source) return h("div", { class: "strip" });
  const drawing = openDrawing(source);
  const { svg, strip } = drawing;
  paint(drawing, states, part, isNear);
  strip.onclick = ({ clientX, clientY }) => {
    const picked = partAt(svg, Object.keys(states), clientX, clientY);
    if (picked) onPick(picked);
  };
  strip.setAttribute("aria-label", label);
  return strip;
}

// Places on a drawing are written in thousandths of its width and height, whatever its size.
const THOUSAND = 1000;

/**
 * A copy of the drawing with one part lit, for a picture beside words; ids stay with the first.
 * @param {string} source
 * @param {string} part
 */
export function copyDrawing(source, part) {
  const svg = readDrawing(source, "drawing");
  for (const element of svg.querySelectorAll(".part")) {
    element.setAttribute("class", element.id === part ? "part failed lit" : "part");
  }
  for (const element of svg.querySelectorAll("[id]")) {
    element.setAttribute("data-part", element.id);
    element.removeAttribute("id");
  }
  return svg;
}

/** @param {SVGSVGElement} svg */
export const wholeOf = (svg) => (svg.getAttribute("viewBox") ?? "").split(/[\s,]+/).map(Number);

/**
 * @param {number[]} whole x, y, width and height of the drawing
 * @param {[number, number]} place
 */
function crossAt([left, upper, width, height], [x, y]) {
  const at = [left + (x / THOUSAND) * width, upper + (y / THOUSAND) * height];
  const size = height * MARK_SHARE * 1.4;
  const transform = `translate(${at[0] - size / 2} ${at[1] - size / 2}) scale(${size / 24})`;
  return s("g", { class: "marks" }, s("g", { class: "mark fail", transform }, shapeParts("fail")));
}

/**
 * The drawing as a small picture: one part lit, the place of a fault marked.
 * @param {{source: string, part: string, place?: [number, number]}} picture
 */
export function drawingPicture({ source, part, place }) {
  const svg = copyDrawing(source, part);
  if (place) svg.append(crossAt(wholeOf(svg), place));
  return svg;
}

/**
 * One part near, on which a tap places a fault; onPlace([x, y]) in thousandths of the drawing.
 * @param {{source: string, part: string, place?: [number, number],
 *   onPlace: (place: [number, number]) => void}} picker
 */
export function placeOnDrawing({ source, part, place, onPlace }) {
  const svg = drawingPicture({ source, part, place });
  const whole = wholeOf(svg);
  svg.addEventListener("click", ({ clientX, clientY }) => {
    const toDrawing = svg.getScreenCTM()?.inverse();
    if (!toDrawing) return;
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(toDrawing);
    const share = [(x - whole[0]) / whole[2], (y - whole[1]) / whole[3]];
    const [across, down] = share.map((one) =>
      Math.min(THOUSAND, Math.max(0, Math.round(one * THOUSAND))),
    );
    onPlace([across, down]);
  });
  requestAnimationFrame(() => {
    const box = svg.isConnected && measureBox(svg, `[data-part="${part}"]`);
    if (!box) return;
    const { clientWidth, clientHeight } = svg;
    const view = fitInto(nearView(box), whole, clientWidth / clientHeight);
    svg.setAttribute("viewBox", view.join(" "));
  });
  return svg;
}
