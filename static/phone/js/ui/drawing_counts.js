// The drawing with how many stoves have a fault at each part.
import { copyDrawing, measureBox, wholeOf } from "./drawing.js";
import { s } from "./dom.js";
import { formatNumber } from "./words.js";

const MARK_SHARE = 0.2;
// The cut-cornered mark of a fail, 24 wide; around it a number must find room.
const PLATE = "M7 1h10l6 6v10l-6 6H7l-6-6V7z";

/**
 * @param {Box} box
 * @param {number} size
 * @param {number} count
 */
function countMark({ x, y, width, height }, size, count) {
  const at = [x + (width - size) / 2, y + (height - size) / 2];
  const transform = `translate(${at[0]} ${at[1]}) scale(${size / 24})`;
  const words = s("text", { x: 12, y: 17.5, "text-anchor": "middle" }, formatNumber(count));
  return s("g", { class: "mark fail", transform }, s("path", { d: PLATE, class: "plate" }), words);
}

/**
 * A copy of the drawing; its marks come once it shows, because what is hidden has no place.
 * @param {string} source
 * @param {Record<string, number>} counts by part
 */
export function drawingCounts(source, counts) {
  const svg = copyDrawing(source, "");
  const size = wholeOf(svg)[3] * MARK_SHARE;
  const marks = s("g", { class: "marks" });
  svg.append(marks);
  const places = Object.keys(counts).map((part) => `[data-part="${CSS.escape(part)}"]`);
  for (const place of places)
    svg.querySelector(place)?.setAttribute("class", "part failed lit");
  new ResizeObserver((_, observer) => {
    const boxes = places.map((place) => measureBox(svg, place));
    if (!svg.isConnected || !boxes.some(Boolean)) return;
    observer.disconnect();
    const drawn = Object.values(counts).flatMap((count, at) => {
      const box = boxes[at];
      return box ? countMark(box, size, count) : [];
    });
    marks.replaceChildren(...drawn);
  }).observe(svg);
  return svg;
}
