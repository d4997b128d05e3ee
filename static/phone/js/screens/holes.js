// A grate measured in one picture: for a check, or as a trial.
import { findLeast, writeLength } from "../inspection/answers.js";
import { parseNumber } from "../inspection/number.js";
import { getMeta, setMeta } from "../store/local_db.js";
import { openCamera } from "../ui/camera.js";
import { h, s } from "../ui/dom.js";
import { alertLine, button, note, page, strong } from "../ui/page.js";
import { draftRoute } from "../ui/routes.js";
import { formatNumber, t } from "../ui/words.js";
import { acceptHoles } from "./holes_answer.js";
import { asJpeg, drawOver, drawPicture, measure } from "./holes_picture.js";

// A second tap on the shutter must not take figures unseen.
const SETTLE_MS = 500;
const DRAWINGS = {
  print: [
    "M6 22V76H114V22M12 38H108M14 56h10v10h-10zm28 0h10v10h-10zm28 0h10v10h-10zm26 0h10v10h-10z",
    "M12 8H116V28H12zm24 20v-9m24 9v-9m24 9v-9",
  ],
  lay: [
    "M4 74H116M36 74V42H84V74M48 74V42M60 74V42M72 74V42M8 74V46H28V74M92 74V46H112V74",
    "M4 42H32M88 42H116",
  ],
  hold: [
    "M4 74H116M36 74V68H84V74M8 68H32M88 68H112M42 4H78V12H42zM20 8a8 8 0 1 0 .1 0",
    "M58 14L8 64M62 14L112 64M6 30L34 2",
  ],
};

/** @type {PutHoles} */
function put({ app, step, screen }, actions, ...content) {
  const back = step ? draftRoute(app.draft) : "#/settings";
  const shown = page({ title: t("holes.title"), back, actions }, ...content);
  const [head, body, dock] = /** @type {HTMLElement[]} */ ([...shown.children]);
  screen.replaceChildren(head, body, dock);
  // From the check one step back shall lead home.
  head.firstElementChild?.addEventListener("click", (event) => {
    event.preventDefault();
    app.go(back);
  });
  // It may scroll.
  body.tabIndex = 0;
  dock.inert = true;
  setTimeout(() => (dock.inert = false), SETTLE_MS);
  head.querySelector("h1")?.focus();
}

/** @type {HolesButton} */
const press = (id, key, className, onclick, more) =>
  button(key, className, onclick, {}, { id: `ui-${id}`, ...more });

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
  put(visit, press("on", "pin.go", "go", () => begin(visit)), caution, figures);
}

/** @param {HolesVisit} visit */
const howButton = (visit) => press("how", "holes.how", "plain", () => showHow(visit));

/** @param {HolesVisit} visit */
function setupLine(visit) {
  const change = () => askSetup(visit);
  const setup = button("holes.setup", "plain", change, { ...visit.setup }, { id: "ui-setup" });
  return h("div", { class: "side" }, setup, howButton(visit));
}

/** @param {unknown} text */
const readMm = (text) => Number(parseNumber(text) ?? NaN);

/** 0 for what no print of 180 mm can be. @param {unknown} text */
function readRuler(text) {
  const mm = readMm(text);
  return mm >= 160 && mm <= 200 ? mm : 0;
}

/** @param {HolesVisit} visit */
function askSetup(visit) {
  const { ruler, step } = visit.setup;
  const field = (/** @type {string} */ id, /** @type {number} */ mm) =>
    h("input", { id, inputmode: "decimal", value: formatNumber(mm) });
  const [rulerField, stepField] = [field("ui-ruler", ruler), field("ui-step", step)];
  if (!ruler) rulerField.value = "";
  const problem = alertLine();
  const keep = () => {
    const setup = { ruler: readRuler(rulerField.value), step: readMm(stepField.value) };
    const wrong = !setup.ruler ? "ruler" : setup.step <= 30 ? "" : "height-not-flat";
    if (wrong) return (problem.textContent = t(`holes.refused.${wrong}`));
    setMeta("frame_ruler", `${setup.ruler}`);
    visit.setup = setup;
    return showCamera(visit);
  };
  put(
    visit,
    press("keep", "pad.ok", "go", keep),
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
  const shutter = press("take", "holes.take", "go", take, { disabled: true });
  const ready = (/** @type {MediaStreamTrack} */ track) => {
    shutter.disabled = false;
    shutter.previousSibling?.remove();
    const can = /** @type {any} */ (track.getCapabilities?.() ?? {});
    const set = (/** @type {any} */ wish) => track.applyConstraints({ advanced: [wish] });
    if (can.focusMode?.includes("continuous")) set({ focusMode: "continuous" });
    if (!can.torch) return;
    const turn = async () => {
      const torch = light.ariaPressed !== "true";
      await set({ torch });
      light.ariaPressed = `${torch}`;
    };
    const light = press("torch", "holes.torch", "plain", turn, { "aria-pressed": "false" });
    shutter.before(light);
  };
  put(visit, shutter, video, setupLine(visit));
  // When it shows.
  setTimeout(() => openCamera(video, ready, (error) => askFile(visit, error)));
}

/** @param {HolesVisit} visit @param {string} error */
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
const again = (visit, className) => press("again", "holes.again", className, () => showCamera(visit));

/** @type {MeasureStage} */
async function measurePicture(visit, source, size) {
  const canvas = drawPicture(source, size);
  const sign = h("progress", { "aria-label": t("holes.working") });
  const working = h("p", { role: "status" }, t("holes.working"));
  put(visit, again(visit, "plain"), canvas, working, sign);
  const picture = await asJpeg(canvas);
  const found = await measure(picture, visit.setup, sign);
  if (!("refused" in found)) return showFigures(visit, canvas, picture, found);
  const { app, step } = visit;
  const type = step && press("type", "holes.type", "plain", () => app.go(draftRoute(app.draft)));
  const refused = alertLine(t(`holes.refused.${found.refused}`));
  return put(visit, [again(visit, "go"), type], refused, canvas);
}

/** @type {FiguresStage} */
function showFigures(visit, canvas, picture, proposal) {
  const { app, step, setup } = visit;
  const margins = proposal.holes.map(({ margin }) => margin);
  const worst = findLeast(margins);
  const overlay = drawOver(canvas, proposal, worst);
  const lines = figureLines(proposal, worst, margins.indexOf(worst) + 1);
  if (!step) return put(visit, again(visit, "go"), overlay, lines, note(t("holes.trial")));
  const finish = (/** @type {boolean} */ isTaken) => () =>
    app.attempt(async () => {
      const taken = { picture, overlay: await asJpeg(overlay), proposal, setup, isTaken };
      await acceptHoles(app, step, taken);
    });
  const take = press("accept", "holes.accept", "go", finish(true));
  const others = [again(visit, "plain"), press("type", "holes.type", "plain", finish(false))];
  return put(visit, [take, h("div", { class: "judge" }, others)], overlay, lines);
}

/** As it will be recorded. @param {Sure} figure */
function written(figure) {
  const { value, uncertainty } = writeLength(figure);
  return { value: Number(value), sure: Number(uncertainty) };
}

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
  const visit = { app, step, screen: h("div", { class: "page holes" }), setup: { ruler, step: 0 } };
  begin(visit);
  return visit.screen;
}
