/**
 * A grate in a picture with the printed frame round it: how many holes, how wide, how far from the
 * rim and from each other, and how sure that is. It proposes or refuses; a person decides.
 */

import { findFrame, measureBlur, OPENING_RADIUS, scaleAt } from "./frame.js";
import { circleOf, median, radiusAt, traceOutline } from "./outline.js";
import { close, findSpots, meanOf, sample } from "./pixels.js";
import { findCamera, toPicture } from "./plane.js";
import { findRim, marginOf } from "./rim.js";
import { describeSureness } from "./uncertainty.js";

/** @typedef {import("./plane.js").Point} Point */
/** @typedef {import("./plane.js").Plane} Plane */
/** @typedef {import("./pixels.js").Picture} Picture */
/** @typedef {import("./outline.js").Outline} Outline */
/** @typedef {{x: number, y: number, radius: number, reach: number, round: boolean}} Hole */

// Half diagonals of a picture to the focal length of a phone's main lens: 24 to 28 mm as for film
// of 36 x 24 mm.
const FOCAL = 1.2;
const MOST_TILT = 35;
const MOST_RESIDUAL = 0.5;
const MOST_BLUR = 1.2;
const MOST_STEP = 30;
const GLARE = 250;
// A hole is narrower than this and than a shadow (mm).
const WIDEST_HOLE = 27;
const NARROWEST_HOLE = 5;
// A hole is darker than these shares of what is round it; the first one decides what is odd.
const LEVELS = [0.62, 0.5, 0.74];
const HOLE_RAYS = 72;
// Of a hole's rays and of the rim's: what must agree with its curve.
const LEAST_GOOD = 0.6;
// A hole's rays about its curve, mm.
const MOST_SPREAD = 1;
// The widest hole to the usual one of one kind.
const ONE_KIND = 1.3;

/** A picture of the plane as seen from straight above, with `grain` mm to a pixel.
 * @param {Picture} picture @param {Plane} plane @param {number} grain @param {number} reach
 * @param {Point} middle @returns {Picture} */
export function straighten(picture, plane, grain, reach, middle = [0, 0]) {
  const size = 2 * Math.round(reach / grain) + 1;
  const pixels = new Uint8Array(size * size);
  for (let row = 0; row < size; row += 1) {
    for (let column = 0; column < size; column += 1) {
      const place = /** @type {Point} */ ([middle[0] + column * grain - reach, middle[1] + row * grain - reach]);
      const [x, y] = toPicture(plane, place);
      pixels[row * size + column] = sample(picture, x, y) + 0.5;
    }
  }
  return { pixels, width: size, height: size };
}

/** Dark spots in a straightened picture, middles and radii in mm; round says whether it may be a
 * hole. Sought at several levels: a lit wall makes a hole pale, a shadow beside it joins it to that.
 * @param {Picture} straight @param {number} grain @param {number} [widest] */
export function findHoles(straight, grain, widest = WIDEST_HOLE) {
  const first = findDark(straight, grain, widest);
  const round = first.filter((spot) => spot.round);
  if (!round.length) return first;
  const narrow = Math.min(widest, 2.6 * median(round.map((spot) => spot.radius)));
  return addNew(first, findDark(straight, grain, narrow));
}

/** @param {Picture} straight @param {number} grain @param {number} widest @returns {Hole[]} */
function findDark(straight, grain, widest) {
  const smooth = meanOf(straight, 1);
  const bright = close(smooth, Math.round(widest / 2 / grain)).pixels;
  const least = (Math.PI / 4) * (NARROWEST_HOLE / grain) ** 2;
  const half = (straight.width - 1) / 2;
  const level = (/** @type {number} */ share) =>
    findSpots(straight, (at) => smooth.pixels[at] < share * bright[at] && bright[at] - smooth.pixels[at] > 12, least / 4)
      .map(({ area, x, y, xx, yy, fill, stretch, square, edge }) => ({
        x: (x - half) * grain,
        y: (y - (straight.height - 1) / 2) * grain,
        radius: Math.sqrt(area / Math.PI) * grain,
        reach: Math.sqrt(xx + yy) * grain,
        round: !edge && area >= least && fill > 0.9 && fill < 1.06 && stretch < 1.4 && square < 0.25,
      }));
  return LEVELS.map(level).reduce(addNew);
}

/** Known spots, and round ones where none is known yet. @param {Hole[]} known @param {Hole[]} spots */
function addNew(known, spots) {
  const isNew = (/** @type {Hole} */ spot) =>
    !known.some((one) => one.round && Math.hypot(one.x - spot.x, one.y - spot.y) < Math.max(one.radius, spot.radius));
  return [...known, ...spots.filter((spot) => spot.round && isNew(spot))];
}

/** @param {Picture} picture @param {Plane} plane @param {{x: number, y: number, radius: number}} hole
 * @param {number} step mm @returns {Outline | null} */
export function traceHole(picture, plane, { x, y, radius }, step) {
  return traceOutline(picture, plane, [x, y], {
    ...{ from: 0.6 * radius, to: radius + Math.min(0.4 * radius, 3), step, sign: 1 },
    // The wall below the far edge is lit: the outermost clear step is the edge.
    ...{ rays: HOLE_RAYS, order: 2, pick: (clear) => clear.at(-1) },
  });
}

/** Shortest way between two holes, and its two points. @param {Outline} one @param {Outline} other */
function webOf(one, other) {
  const [a, b] = [circleOf(one), circleOf(other)];
  let best = { length: Infinity, from: /** @type {Point} */ ([0, 0]), to: /** @type {Point} */ ([0, 0]) };
  const toward = Math.atan2(b.y - a.y, b.x - a.x);
  for (let turn = -0.4; turn <= 0.4; turn += 0.05) {
    const from = pointOf(one, toward + turn);
    const to = pointOf(other, Math.atan2(from[1] - other.centre[1], from[0] - other.centre[0]));
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    if (length < best.length) best = { length, from, to };
  }
  return best;
}

/** @param {Outline} outline @param {number} angle @returns {Point} */
function pointOf(outline, angle) {
  const radius = radiusAt(outline, angle);
  return [outline.centre[0] + radius * Math.cos(angle), outline.centre[1] + radius * Math.sin(angle)];
}

/**
 * What one picture is measured with: ruler is the printed control ruler's measured length, step how
 * far the grate's face lies above the frame, mm.
 * @typedef {{ruler: number, step: number}} Setup
 */

/** @param {Picture} picture @param {Setup} setup
 * @returns {{refused: string} & Record<string, any> | {plane: Plane, camera: any, blur: number, grain: number, marks: number}} */
function lookThrough(picture, setup) {
  if (!(Math.abs(setup.step) <= MOST_STEP)) return { refused: "height-not-flat" };
  const frame = findFrame(picture);
  if ("refused" in frame) return frame;
  const { plane, seen, places } = frame;
  const grain = 1 / Math.sqrt(scaleAt(plane, [0, 0]));
  const camera = findCamera(plane, FOCAL);
  if (camera.tilt > MOST_TILT) return { refused: "tilted", tilt: camera.tilt };
  const residual = plane.residual * grain;
  if (residual > MOST_RESIDUAL) return { refused: "marks-not-flat", residual };
  const blur = measureBlur(picture, plane, places);
  if (blur > MOST_BLUR) return { refused: "blurred", blur };
  return { plane, camera, blur, grain, marks: seen.length };
}

/** Share of the grate's face that is so bright that nothing is seen.
 * @param {Picture} straight @param {number} grain @param {{x: number, y: number, radius: number}} circle */
function glareOf({ pixels, width }, grain, { x, y, radius }) {
  let [glare, all] = [0, 0];
  const half = (width - 1) / 2;
  pixels.forEach((value, at) => {
    const [right, down] = [((at % width) - half) * grain - x, (Math.floor(at / width) - half) * grain - y];
    if (right * right + down * down > (radius - 2) ** 2) return;
    all += 1;
    if (value >= GLARE) glare += 1;
  });
  return glare / all;
}

/** Outlines of what is a hole; none if there are two kinds or something that is none.
 * @param {Picture} picture @param {Plane} plane @param {Hole[]} spots @param {number} step */
function traceHoles(picture, plane, spots, step) {
  const typical = median(spots.filter((spot) => spot.round).map((spot) => spot.radius));
  /** @type {Outline[]} */
  const holes = [];
  const isIn = (/** @type {Hole} */ spot) => (/** @type {Outline} */ hole) =>
    Math.hypot(hole.centre[0] - spot.x, hole.centre[1] - spot.y) < Math.max(spot.radius, hole.terms[0]);
  for (const spot of [...spots].sort((one, other) => Number(other.round) - Number(one.round))) {
    if (spot.radius < 0.55 * typical || holes.some(isIn(spot))) continue;
    const outline = traceHole(picture, plane, { ...spot, radius: spot.round ? spot.radius : typical }, step);
    if (!outline || outline.good < LEAST_GOOD || outline.spread > MOST_SPREAD) return null;
    const { x, y, radius } = circleOf(outline);
    if (radius > ONE_KIND * typical || radius < typical / ONE_KIND) return null;
    // Once more from its middle: the spot may have been a part of it.
    const again = traceHole(picture, plane, { x, y, radius }, step);
    if (!again) return null;
    holes.push(again);
  }
  return holes;
}

/** Holes, margin and web of the grate in a picture, or why they cannot be told.
 * @param {Picture} picture @param {Setup} setup @returns {Record<string, any>} */
export function measureGrate(picture, setup) {
  const seen = lookThrough(picture, setup);
  if ("refused" in seen) return seen;
  const { plane, grain } = seen;
  const fine = Math.max(0.25, Math.min(0.6, grain));
  const straight = straighten(picture, plane, fine, OPENING_RADIUS + 3);
  const spots = findHoles(straight, fine).filter(({ x, y }) => Math.hypot(x, y) < OPENING_RADIUS);
  const round = spots.filter((spot) => spot.round);
  if (!round.length) return { refused: "no-holes" };
  const rim = findRim(picture, plane, round, grain / 2);
  if (!rim || rim.good < LEAST_GOOD) return { refused: "rim-not-seen" };
  const edge = circleOf(rim);
  // The gap round the grate has its middle within the rim, but reaches as far.
  const within = (/** @type {{x: number, y: number, reach: number}} */ spot) =>
    Math.hypot(spot.x - edge.x, spot.y - edge.y) + spot.reach < 0.97 * edge.radius;
  const glare = glareOf(straight, fine, edge);
  if (glare > 0.02) return { refused: "glare", glare };
  const holes = traceHoles(picture, plane, spots.filter(within), grain / 2);
  return holes ? describe(holes, rim, seen, setup) : { refused: "holes-differ" };
}

/** @param {Outline[]} holes @param {Outline} rim @param {any} seen @param {Setup} setup */
function describe(holes, rim, { plane, camera, blur, grain, marks }, setup) {
  const sure = describeSureness(plane, camera, grain, setup);
  const margins = holes.map((hole) => marginOf(rim, hole));
  const widths = holes.map((hole) => {
    const { x, y, radius } = circleOf(hole);
    return { x, y, ...sure([x - radius, y], [x + radius, y]), at: toPicture(plane, [x, y]), across: toPicture(plane, [x + radius, y]) };
  });
  const line = (/** @type {{from: Point, to: Point}} */ { from, to }) => ({
    ...sure(from, to), from: toPicture(plane, from), to: toPicture(plane, to),
  });
  return {
    count: holes.length,
    holes: widths,
    margins: margins.map(line),
    web: line(shortestWeb(holes)),
    rim: { ...circleOf(rim), good: rim.good },
    ...{ blur, marks, tilt: camera.tilt, distance: camera.distance, residual: plane.residual * grain },
  };
}

/** @param {Outline[]} holes */
function shortestWeb(holes) {
  const pairs = holes.flatMap((one, at) => holes.slice(0, at).map((other) => webOf(one, other)));
  return pairs.reduce((best, pair) => (pair.length < best.length ? pair : best));
}
