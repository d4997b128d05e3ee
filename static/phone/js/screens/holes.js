// Holes, margin and web of a grate from one picture with the printed frame: a proposal to look at.
// Nothing is stored but the control ruler's length.
import { getMeta, setMeta } from "../store/local_db.js";
import { parseNumber } from "../inspection/number.js";
import { h } from "../ui/dom.js";
import { alertLine, note, page, strong } from "../ui/page.js";
import { t } from "../ui/words.js";

const LONGEST_PX = 1280;
const RULER_AS_PRINTED = "180";

/** The picture as grey numbers, and the canvas on which it stays. @param {Blob} file */
async function readPicture(file) {
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_PX / Math.max(bitmap.width, bitmap.height));
  const width = Math.round(bitmap.width * scale);
  const height = Math.round(bitmap.height * scale);
  const canvas = h("canvas", { role: "img", "aria-label": t("holes.picture"), width, height });
  const paint = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  paint.drawImage(bitmap, 0, 0, width, height);
  bitmap.close();
  const rgba = paint.getImageData(0, 0, width, height).data;
  // Weighted as in ITU-R BT.601.
  const pixels = new Uint8Array(width * height).map(
    (_, at) => 0.299 * rgba[4 * at] + 0.587 * rgba[4 * at + 1] + 0.114 * rgba[4 * at + 2],
  );
  return { canvas, paint, picture: { pixels, width, height } };
}

/** @param {Grey} picture @param {HoleSetup} setup @returns {Promise<HoleAnswer>} */
function measure(picture, setup) {
  const worker = new Worker(new URL("../holes/worker.js", import.meta.url), { type: "module" });
  return new Promise((resolve, reject) => {
    worker.onmessage = ({ data }) => resolve(data);
    worker.onerror = reject;
    worker.postMessage({ picture, setup });
  }).finally(() => worker.terminate());
}

/** Every hole with its number, and the shortest way to the rim.
 * @param {CanvasRenderingContext2D} paint @param {GrateFigures} found @param {Sure} margin */
function drawOver(paint, { holes }, margin) {
  const stroke = (/** @type {string} */ colour, /** @type {number} */ width) => {
    paint.strokeStyle = colour;
    paint.lineWidth = width;
    paint.stroke();
  };
  paint.font = "bold 20px sans-serif";
  paint.textAlign = "center";
  paint.textBaseline = "middle";
  holes.forEach(({ width }, at) => {
    const [[left, top], [right, bottom]] = width.line;
    const [x, y] = [(left + right) / 2, (top + bottom) / 2];
    paint.beginPath();
    paint.arc(x, y, Math.hypot(right - left, bottom - top) / 2, 0, 2 * Math.PI);
    stroke("#fff", 3);
    paint.fillStyle = "#fff";
    paint.fillText(String(at + 1), x, y);
  });
  const [[fromX, fromY], [toX, toY]] = margin.line;
  paint.beginPath();
  paint.moveTo(fromX, fromY);
  paint.lineTo(toX, toY);
  stroke("#000", 9);
  stroke("#ff0", 5);
}

/** To a tenth of a millimetre; the uncertainty never rounded down. @param {Sure} figure */
const written = ({ value, uncertainty }) => ({
  value: Math.round(value * 10) / 10,
  sure: Math.ceil(uncertainty * 10) / 10,
});

/** @param {GrateFigures} found @param {Sure} margin */
function figureLines(found, margin) {
  const widths = found.holes.map(({ width }) => written(width));
  const values = widths.map(({ value }) => value);
  const range = { from: Math.min(...values), to: Math.max(...values) };
  const sure = Math.max(...widths.map((one) => one.sure));
  return [
    strong(t("holes.count", { n: found.holes.length })),
    h("p", null, t("holes.margin", written(margin))),
    found.web && h("p", null, t("holes.web", written(found.web))),
    h("p", null, t("holes.width", { ...range, sure })),
    note(t("holes.look")),
  ];
}

/** @param {string} id @param {string} text @param {string} value */
function numberField(id, text, value) {
  const field = h("input", { id, type: "text", inputmode: "decimal", value });
  return { field, line: h("p", null, h("label", { for: id }, text), field) };
}

/** @param {Blob} file @param {HoleSetup} setup @param {HTMLElement} result */
async function show(file, setup, result) {
  result.replaceChildren(h("p", { role: "status" }, t("holes.working")));
  const read = await readPicture(file).catch(() => null);
  const found = read ? await measure(read.picture, setup) : { refused: "no-picture" };
  if (!read || "refused" in found) {
    result.replaceChildren(alertLine(t(`holes.refused.${"refused" in found ? found.refused : ""}`)));
    return;
  }
  const margins = found.holes.map(({ margin }) => margin);
  const margin = margins.reduce((least, one) => (one.value < least.value ? one : least));
  drawOver(read.paint, found, margin);
  result.replaceChildren(...figureLines(found, margin).filter((one) => one !== null), read.canvas);
}

export async function holesScreen() {
  const kept = /** @type {string | undefined} */ (await getMeta("frame_ruler"));
  const ruler = numberField("ui-ruler", t("holes.ruler"), kept ?? RULER_AS_PRINTED);
  const step = numberField("ui-step", t("holes.step"), "0");
  const result = h("div", { class: "holes", "aria-live": "polite" });
  const input = h("input", { id: "ui-holes", type: "file", accept: "image/*", capture: "environment" });
  ruler.field.addEventListener("change", () => setMeta("frame_ruler", ruler.field.value));
  input.addEventListener("change", () => {
    const setup = { ruler: asNumber(ruler.field), step: asNumber(step.field) };
    const file = input.files?.[0];
    return file && show(file, setup, result);
  });
  return page(
    { title: t("holes.title"), back: "#/settings" },
    h("p", null, t("holes.what")),
    h("p", null, t("holes.how")),
    ruler.line,
    step.line,
    h("label", { for: "ui-holes", class: "strong" }, t("holes.take")),
    input,
    result,
  );
}

/** @param {HTMLInputElement} field not a number where none was typed */
const asNumber = (field) => Number(parseNumber(field.value) ?? NaN);
