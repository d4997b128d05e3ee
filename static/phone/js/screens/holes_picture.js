// A picture measured and drawn over.
import { whenGone } from "../ui/camera.js";
import { h } from "../ui/dom.js";
import { t } from "../ui/words.js";

// What the measuring was tried with (tests/holes): larger ones take a cheap phone over 3 s.
const LONGEST_PX = 960;
const OVERLAY_PX = 960;

/** @param {HTMLCanvasElement} canvas */
const painterOf = (canvas) =>
  /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));

/** @type {DrawPicture} */
export function drawPicture(source, size, longest = LONGEST_PX) {
  const scale = Math.min(1, longest / Math.max(size.width, size.height));
  const [width, height] = [size.width, size.height].map((side) => Math.round(side * scale));
  const canvas = h("canvas", { role: "img", "aria-label": t("holes.picture"), width, height });
  painterOf(canvas).drawImage(source, 0, 0, width, height);
  return canvas;
}

/** @type {(canvas: HTMLCanvasElement) => Promise<any>} */
export const asJpeg = (canvas) =>
  new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.8));

/** Of the kept JPEG, so that it gives the same figures to anybody.
 * @type {(jpeg: Blob) => Promise<Grey>} */
async function readGrey(jpeg) {
  const bitmap = await createImageBitmap(jpeg);
  const { width, height } = bitmap;
  const { data } = painterOf(drawPicture(bitmap, bitmap)).getImageData(0, 0, width, height);
  const pixels = new Uint8Array(width * height);
  // Weighted as in ITU-R BT.601.
  for (let at = 0; at < pixels.length; at += 1) {
    pixels[at] = 0.299 * data[4 * at] + 0.587 * data[4 * at + 1] + 0.114 * data[4 * at + 2];
  }
  return { pixels, width, height };
}

/** @type {MeasurePicture} */
export async function measure(jpeg, setup, sign) {
  const picture = await readGrey(jpeg);
  return new Promise((resolve) => {
    if (!sign.isConnected) return;
    const worker = new Worker(new URL("../holes/worker.js", import.meta.url), { type: "module" });
    whenGone(sign, () => worker.terminate());
    worker.onmessage = ({ data }) => resolve(data);
    worker.onerror = () => resolve({ refused: "broken" });
    worker.postMessage({ picture, setup });
  });
}

/** The grate alone, so that every number can be read. @type {DrawOver} */
export function drawOver(picture, { holes }, worst) {
  const points = holes.flatMap(({ width, margin }) => [...width.line, ...margin.line]);
  const [xs, ys] = [0, 1].map((axis) => points.map((point) => point[axis]));
  const [left, top] = [Math.min(...xs), Math.min(...ys)];
  const [wide, high] = [Math.max(...xs) - left, Math.max(...ys) - top];
  const scale = OVERLAY_PX / Math.max(wide, high);
  const rim = 0.05 * wide;
  const size = { width: (wide + 2 * rim) * scale, height: (high + 2 * rim) * scale };
  const canvas = drawPicture(picture, size, Infinity);
  const paint = painterOf(canvas);
  paint.setTransform(scale, 0, 0, scale, scale * (rim - left), scale * (rim - top));
  paint.drawImage(picture, 0, 0);
  paint.shadowColor = "#000";
  paint.shadowBlur = 9;
  const stroke = (/** @type {string} */ colour, /** @type {number} */ px) => {
    paint.strokeStyle = colour;
    paint.lineWidth = px / scale;
    paint.stroke();
  };
  paint.fillStyle = "#fff";
  paint.textAlign = "center";
  paint.textBaseline = "middle";
  holes.forEach(({ width }, at) => {
    const [[x1, y1], [x2, y2]] = width.line;
    const [x, y, radius] = [(x1 + x2) / 2, (y1 + y2) / 2, Math.hypot(x2 - x1, y2 - y1) / 2];
    paint.beginPath();
    paint.arc(x, y, radius, 0, 7);
    stroke("#fff", 4);
    paint.font = `bold ${radius}px sans-serif`;
    paint.fillText(`${at + 1}`, x, y);
  });
  const [from, to] = worst.line;
  paint.beginPath();
  paint.moveTo(from[0], from[1]);
  paint.lineTo(to[0], to[1]);
  stroke("#ff0", 12);
  return canvas;
}
