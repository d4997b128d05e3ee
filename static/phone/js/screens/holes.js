// A grate measured in one picture: a proposal for a check of the open inspection (#/holes/STEP), or
// from the settings a trial, of which nothing is kept.
import { parseNumber } from "../inspection/number.js";
import { getMeta, setMeta } from "../store/local_db.js";
import { openCamera } from "../ui/camera.js";
import { h, s } from "../ui/dom.js";
import { alertLine, button, note, page, strong } from "../ui/page.js";
import { draftRoute } from "../ui/routes.js";
import { formatNumber, t } from "../ui/words.js";
import { acceptHoles } from "./holes_answer.js";
import { asJpeg, drawOver, drawPicture, measure } from "./holes_picture.js";

// Printed 180 mm long; printers change it by this much at most.
const RULER = { least: 160, most: 200 };
const MOST_STEP = 30;
// A second tap on the shutter must not take figures that nobody has looked at.
const SETTLE_MS = 500;
// What is there, and in clay what to look at.
const DRAWINGS = {
  print: [
    "M6 22V76H114V22M14 56H24V66H14ZM42 56H52V66H42ZM70 56H80V66H70ZM96 56H106V66H96ZM12 34V42M12 38H108M108 34V42",
    "M12 8H116V28H12ZM12 28V18M36 28V18M60 28V18M84 28V18M108 28V18",
  ],
  lay: [
    "M4 74H116M36 74V42H84V74M48 42V74M60 42V74M72 42V74M8 74V46H28V74M92 74V46H112V74",
    "M4 42H32M88 42H116",
  ],
  hold: [
    "M4 74H116M40 74V68H80V74M8 68H34M86 68H112M42 4H78V12H42ZM20 8a8 8 0 1 0 .1 0",
    "M58 14L8 64M62 14L112 64M6 30L34 2",
  ],
};

/** @type {PutHoles} */
function put({ app, step, screen }, actions, ...content) {
  const back = step ? draftRoute(app.draft) : "#/settings";
  const shown = page({ title: t("holes.title"), back, actions }, ...content);
  screen.replaceChildren(...shown.children);
  const dock = /** @type {HTMLElement} */ (screen.lastElementChild);
  dock.inert = true;
  setTimeout(() => (dock.inert = false), SETTLE_MS);
  screen.querySelector("h1")?.focus();
}

/** @type {HolesButton} */
const press = (key, className, onclick, more) =>
  button(`holes.${key}`, className, onclick, {}, { id: `ui-${key}`, ...more });

/** @param {HolesVisit} visit */
const begin = (visit) => (visit.setup.ruler ? showCamera(visit) : askSetup(visit));

/** @param {HolesVisit} visit */
function showHow(visit) {
  const attrs = { class: "picture", fill: "none", stroke: "currentColor", "stroke-width": 2.6 };
  const figures = Object.entries(DRAWINGS).map(([name, [ink, clay]]) => {
    const paths = [s("path", { d: ink }), s("path", { class: "clay", d: clay })];
    const svg = s("svg", { ...attrs, viewBox: "0 0 120 80", "aria-hidden": "true" }, ...paths);
    return h("figure", null, svg, h("figcaption", null, t(`holes.${name}`)));
  });
  const caution = h("p", { class: "caution" }, t("holes.care"));
  put(visit, button("pin.go", "go", () => begin(visit), {}, { id: "ui-on" }), caution, figures);
}

/** @param {HolesVisit} visit */
const howButton = (visit) => press("how", "plain", () => showHow(visit));

/** What it is measured with, small. @param {HolesVisit} visit */
function setupLine(visit) {
  const change = () => askSetup(visit);
  const setup = button("holes.setup", "plain", change, { ...visit.setup }, { id: "ui-setup" });
  return h("div", { class: "side" }, setup, howButton(visit));
}

/** NaN where no number is typed, or one that cannot be. @type {(text: unknown, least: number, most: number) => number} */
function readMm(text, least, most) {
  const mm = Number(parseNumber(text) ?? NaN);
  return mm >= least && mm <= most ? mm : NaN;
}

/** @param {unknown} text */
const readRuler = (text) => readMm(text, RULER.least, RULER.most);

/** @param {HolesVisit} visit */
function askSetup(visit) {
  const { ruler, step } = visit.setup;
  const field = (/** @type {string} */ id, /** @type {number} */ mm) =>
    h("input", { id, inputmode: "decimal", value: mm >= 0 && formatNumber(mm) });
  const [rulerField, stepField] = [field("ui-ruler", ruler), field("ui-step", step)];
  const problem = alertLine();
  const keep = () => {
    visit.setup = { ruler: readRuler(rulerField.value), step: readMm(stepField.value, 0, MOST_STEP) };
    const { setup } = visit;
    const wrong = setup.ruler ? Number.isNaN(setup.step) && "height-not-flat" : "ruler";
    if (wrong) return (problem.textContent = t(`holes.refused.${wrong}`));
    setMeta("frame_ruler", `${setup.ruler}`);
    return showCamera(visit);
  };
  put(
    visit,
    button("pad.ok", "go", keep, {}, { id: "ui-keep" }),
    h("label", null, t("holes.ruler"), rulerField),
    h("label", null, t("holes.step"), stepField),
    problem,
    howButton(visit),
  );
}

/** @param {HolesVisit} visit */
function showCamera(visit) {
  const attrs = { class: "camera", muted: true, playsinline: true, "aria-label": t("holes.hold") };
  const video = h("video", attrs);
  const take = () => {
    const size = { width: video.videoWidth, height: video.videoHeight };
    if (size.width) measurePicture(visit, video, size);
  };
  const shutter = press("take", "go", take, { disabled: true });
  const ready = (/** @type {MediaStreamTrack} */ track) => {
    shutter.disabled = false;
    shutter.previousSibling?.remove();
    const can = /** @type {any} */ (track.getCapabilities?.() ?? {});
    const set = (/** @type {any} */ wish) => track.applyConstraints({ advanced: [wish] });
    if (can.focusMode?.includes("continuous")) set({ focusMode: "continuous" });
    if (!can.torch) return;
    let torch = false;
    const turn = async () => {
      await set({ torch: !torch });
      torch = !torch;
      light.ariaPressed = `${torch}`;
    };
    const light = press("torch", "plain", turn, { "aria-pressed": "false" });
    shutter.before(light);
  };
  put(visit, shutter, video, setupLine(visit));
  // Once it is on the page.
  setTimeout(() => openCamera(video, ready, (error) => askFile(visit, error)));
}

/** Where no camera shows here. @param {HolesVisit} visit @param {string} error */
function askFile(visit, error) {
  const attrs = { accept: "image/*", capture: "environment", id: "ui-holes", class: "beside" };
  const input = h("input", { type: "file", ...attrs });
  const why = error === "NotAllowedError" ? "camera_refused" : "no_camera";
  const problem = alertLine(t(`holes.${why}`));
  input.onchange = async () => {
    const [file] = /** @type {FileList} */ (input.files);
    const bitmap = await createImageBitmap(file).catch(() => null);
    if (bitmap) measurePicture(visit, bitmap, bitmap);
    else problem.textContent = t("holes.refused.no-picture");
  };
  const label = h("label", { class: "go", for: "ui-holes" }, input, t("holes.take"));
  put(visit, label, problem, setupLine(visit));
}

/** @param {HolesVisit} visit @param {string} className */
const again = (visit, className) => press("again", className, () => showCamera(visit));

/** @type {MeasureStage} */
async function measurePicture(visit, source, size) {
  const canvas = drawPicture(source, size);
  const sign = h("progress", { "aria-label": t("holes.working") });
  const working = h("p", { role: "status" }, t("holes.working"));
  // With this the camera's picture is off the page.
  put(visit, again(visit, "plain"), canvas, working, sign);
  const picture = await asJpeg(canvas);
  const found = await measure(picture, visit.setup, sign);
  if (!("refused" in found)) return showFigures(visit, canvas, picture, found);
  const { app, step } = visit;
  const type = step && press("type", "plain", () => app.go(draftRoute(app.draft)));
  const refused = alertLine(t(`holes.refused.${found.refused}`));
  return put(visit, [again(visit, "go"), type], refused, canvas);
}

/** @type {FiguresStage} */
function showFigures(visit, canvas, picture, proposal) {
  const { app, step, setup } = visit;
  const margins = proposal.holes.map(({ margin }) => margin);
  const worst = margins.reduce((least, one) => (one.value < least.value ? one : least));
  const overlay = drawOver(canvas, proposal, worst);
  const lines = figureLines(proposal, worst, margins.indexOf(worst) + 1);
  if (!step) return put(visit, again(visit, "go"), overlay, lines, note(t("holes.trial")));
  const finish = (/** @type {boolean} */ isTaken) => () =>
    app.attempt(async () => {
      const taken = { picture, overlay: await asJpeg(overlay), proposal, setup, isTaken };
      await acceptHoles(app, step, taken);
    });
  const take = press("accept", "go", finish(true));
  const others = [again(visit, "plain"), press("type", "plain", finish(false))];
  return put(visit, [take, h("div", { class: "judge" }, others)], overlay, lines);
}

/** To a tenth of a millimetre; the uncertainty never rounded down. @param {Sure} figure */
const written = ({ value, uncertainty }) => ({
  value: Math.round(value * 10) / 10,
  sure: Math.ceil(uncertainty * 10) / 10,
});

/** @param {GrateFigures} found @param {Sure} worst @param {number} hole */
function figureLines({ holes, web }, worst, hole) {
  const widths = holes.map(({ width }) => written(width));
  const values = widths.map(({ value }) => value);
  const range = { from: Math.min(...values), to: Math.max(...values) };
  const sure = Math.max(...widths.map((one) => one.sure));
  return [
    strong(t("holes.count", { n: holes.length })),
    h("p", null, t("holes.margin", { ...written(worst), hole })),
    web && h("p", null, t("holes.web", written(web))),
    h("p", null, t("holes.width", { ...range, sure })),
    note(t("holes.look")),
  ];
}

/** @param {App} app @param {string} [step] */
export async function holesScreen(app, step) {
  if (step && !app.draft) return app.go("#/today");
  const ruler = readRuler(await getMeta("frame_ruler"));
  // The height is one grate's: asked anew each time.
  const visit = { app, step, screen: h("div", { class: "page holes" }), setup: { ruler, step: 0 } };
  begin(visit);
  return visit.screen;
}
