/**
 * A grate in a picture, with the printed frame round it: how many holes, how wide, how far from the
 * rim and from each other, and how sure that is. It proposes or refuses; a person decides.
 */

import { findFrame, OPENING_RADIUS, RULER_LENGTH } from "./frame.js";
import { circleOf, findShortest, findSteps, median, pointOf, traceOutline } from "./outline.js";
import { close, findSpots, meanOf, sample } from "./pixels.js";
import { findCamera, toPicture, uncertaintyOfLength } from "./plane.js";

// Half diagonals of a picture to the focal length of a phone's main lens (26 mm as for film of
// 36 x 24 mm), and what is not known of it.
const FOCAL = 1.2;
const FOCAL_SPREAD = 0.12;
const MOST_TILT = 35;
// Of the marks from the plane, of the blur's deviation, of the face above or below the frame: mm.
const MOST_RESIDUAL = 0.5;
const MOST_BLUR = 1.1;
const MOST_STEP = 30;
const GLARE = 250;
const MOST_GLARE = 0.02;
// Holes are narrower than this and wider than that (mm); where they are sought, mm to a pixel.
const WIDEST_HOLE = 27;
const NARROWEST_HOLE = 5;
const GRAIN = 0.7;
// A hole is darker than these shares of what is round it: a lit wall makes it pale, a shadow beside
// joins it to that. What the first one finds and no outline explains, is odd.
const LEVELS = [0.62, 0.5, 0.74];
// Of the rays, what must agree with the outline; the widest hole to the usual one of one kind.
const LEAST_GOOD = 0.6;
const ONE_KIND = 1.3;
// Of the radius: two holes that ran into each other are longer than any one.
const MOST_OVAL = 0.12;
const HOLE_RAYS = 72;
const RIM_RAYS = 180;
// JCGM 100:2008, 4.3.7, 5.1.2 and 6.2.1. An edge is found to so many pixels; what the marks leave
// over is no chance, as a sheet bends and a lens differs slowly: its variance grows with the
// distance of two points, at the frame's reach so many residuals squared. Both from photographs of
// known sizes (tests/holes).
const COVERAGE = 2;
const EDGE = 0.2;
const MISFIT = 3;
// Limits of what is read and laid by hand, mm.
const RULER_READ_TO = 0.5;
const STEP_LAID_TO = 1;

/** The plane from straight above, GRAIN mm to a pixel. @type {(picture: Grey, plane: Plane, reach: number) => Grey} */
export function straighten(picture, plane, reach) {
  const half = Math.round(reach / GRAIN);
  const width = 2 * half + 1;
  const pixels = new Uint8Array(width * width).map((_, at) => {
    const [x, y] = toPicture(plane, ((at % width) - half) * GRAIN, (Math.floor(at / width) - half) * GRAIN);
    return sample(picture, x, y);
  });
  return { pixels, width, height: width };
}

/** Dark spots of a straightened picture in mm; round says whether one may be a hole.
 * @type {(straight: Grey) => DarkSpot[]} */
export function findHoles(straight) {
  const first = findDark(straight, WIDEST_HOLE);
  const radii = first.filter((spot) => spot.round).map((spot) => spot.radius);
  return radii.length ? addNew(first, findDark(straight, Math.min(WIDEST_HOLE, 2.6 * median(radii)))) : first;
}

/** @type {(straight: Grey, widest: number) => DarkSpot[]} */
function findDark(straight, widest) {
  const pixels = meanOf(straight, 1);
  const bright = close({ ...straight, pixels }, Math.round(widest / GRAIN));
  const half = (straight.width - 1) / 2;
  return LEVELS.map((level) =>
    findSpots(straight, (at) => pixels[at] < Math.min(level * bright[at], bright[at] - 12), 9).map((spot) => {
      const radius = Math.sqrt(spot.area / Math.PI) * GRAIN;
      const round = !spot.edge && radius > NARROWEST_HOLE / 2 && Math.abs(spot.fill - 0.98) < 0.08 && spot.stretch < 1.4 && spot.square < 0.25;
      return { x: (spot.x - half) * GRAIN, y: (spot.y - half) * GRAIN, radius, reach: spot.reach * GRAIN, round };
    }),
  ).reduce(addNew);
}

/** @type {(known: DarkSpot[], spots: DarkSpot[]) => DarkSpot[]} */
const addNew = (known, spots) => [
  ...known,
  ...spots.filter((spot) => spot.round && !known.some((one) => one.round && distance(one, spot) < Math.max(one.radius, spot.radius))),
];

/** @type {(one: {x: number, y: number}, other: {x: number, y: number}) => number} */
const distance = (one, other) => Math.hypot(one.x - other.x, one.y - other.y);

/** The wall below the far edge is lit: the outermost clear step is the edge.
 * @type {(picture: Grey, plane: Plane, hole: Circle, step: number) => Outline | null} */
export const traceHole = (picture, plane, { x, y, radius }, step) =>
  traceOutline(picture, plane, [x, y], {
    ...{ range: [0.6 * radius, radius + Math.min(0.4 * radius, 3)], step, sign: 1, count: HOLE_RAYS, terms: 5 },
    pick: (clear) => clear.at(-1),
  });

/** The rim, on which it turns dark: about the radius of most such steps outside the holes. The
 * grate's own side may be seen below it: the innermost clear step is the edge.
 * @type {(picture: Grey, plane: Plane, holes: Circle[], step: number) => Outline | null} */
function findRim(picture, plane, holes, step) {
  // Middle of the smallest circle round the holes' middles: Badoiu and Clarkson, SODA 2003.
  const middle = { x: 0, y: 0 };
  const farthest = () => holes.reduce((far, hole) => (distance(hole, middle) > distance(far, middle) ? hole : far));
  for (let round = 1; round < 40; round += 1) {
    const { x, y } = farthest();
    middle.x += (x - middle.x) / round;
    middle.y += (y - middle.y) / round;
  }
  const reach = distance(farthest(), middle) + farthest().radius;
  const radii = Array.from({ length: RIM_RAYS }, (_, ray) => (2 * Math.PI * ray) / RIM_RAYS).flatMap((angle) => {
    const steps = findSteps(picture, plane, [middle.x, middle.y], angle, [reach - 2, OPENING_RADIUS + 5], step, -1);
    const highest = Math.max(...steps.map((one) => one.height));
    return steps.filter((one) => one.height > 0.3 * highest).map((one) => one.radius);
  });
  /** @type {(radius: number) => number} */
  const votes = (radius) => radii.filter((one) => Math.abs(one - radius) < 3).length;
  const radius = radii.reduce((best, one) => (votes(one) > votes(best) ? one : best), reach);
  /** @type {(circle: Circle, wide: number) => Outline | null} */
  const trace = (circle, wide) => traceOutline(picture, plane, [circle.x, circle.y], {
    ...{ range: [circle.radius - wide, circle.radius + wide], step, sign: -1, count: RIM_RAYS, terms: 7 },
    pick: (clear) => clear[0],
  });
  const rough = trace({ ...middle, radius }, 5);
  return rough && trace(circleOf(rough), 3);
}

/** Outlines of the holes among the spots; none if they are of two kinds or one is no hole.
 * @type {(picture: Grey, plane: Plane, spots: DarkSpot[], step: number) => Outline[] | null} */
function traceHoles(picture, plane, spots, step) {
  const typical = median(spots.filter((spot) => spot.round).map((spot) => spot.radius));
  /** @type {Outline[]} */
  const holes = [];
  for (const spot of spots.toSorted((one, other) => Number(other.round) - Number(one.round))) {
    if (spot.radius < 0.55 * typical || holes.some((hole) => distance(circleOf(hole), spot) < Math.max(spot.radius, hole.terms[0]))) continue;
    const rough = traceHole(picture, plane, spot.round ? spot : { ...spot, radius: typical }, step);
    // Once more from its middle: the spot may have been a part of it.
    const hole = rough && traceHole(picture, plane, circleOf(rough), step);
    if (!hole || hole.good < LEAST_GOOD) return null;
    if (Math.abs(Math.log(hole.terms[0] / typical)) > Math.log(ONE_KIND)) return null;
    if (Math.hypot(hole.terms[3], hole.terms[4]) > MOST_OVAL * hole.terms[0]) return null;
    holes.push(hole);
  }
  return holes;
}

/** A length between two places with its standard uncertainties and the expanded one, mm.
 * @type {(plane: Plane, grain: number, far: number, setup: HoleSetup) => (ends: [Point, Point]) => Sure} */
export const measureWith = (plane, grain, far, { ruler, step }) => (ends) => {
  const length = Math.hypot(ends[0][0] - ends[1][0], ends[0][1] - ends[1][1]);
  const parts = {
    plane: Math.hypot(uncertaintyOfLength(plane, ...ends), plane.residual * grain * Math.sqrt((MISFIT * length) / plane.span)),
    edge: Math.SQRT2 * EDGE * grain,
    height: (length * Math.hypot(STEP_LAID_TO / Math.sqrt(3), step * FOCAL_SPREAD)) / far,
    print: (length * RULER_READ_TO) / Math.sqrt(3) / ruler,
  };
  return {
    value: length * (ruler / RULER_LENGTH) * (1 - step / far),
    uncertainty: COVERAGE * Math.hypot(...Object.values(parts)),
    parts,
    line: ends.map(([x, y]) => toPicture(plane, x, y)),
  };
};

/** Holes, margins and web of the grate in a picture, or why they cannot be told.
 * @type {(picture: Grey, setup: HoleSetup) => {refused: string} | GrateFigures} */
export function measureGrate(picture, setup) {
  if (typeof setup.step !== "number" || !(Math.abs(setup.step) <= MOST_STEP)) return { refused: "height-not-flat" };
  const frame = findFrame(picture);
  if ("refused" in frame) return frame;
  const { plane, grain, blur } = frame;
  const { tilt, distance: far } = findCamera(plane, FOCAL);
  if (tilt > MOST_TILT) return { refused: "tilted" };
  if (!(plane.residual * grain < MOST_RESIDUAL)) return { refused: "marks-not-flat" };
  if (blur > MOST_BLUR) return { refused: "blurred" };
  const straight = straighten(picture, plane, OPENING_RADIUS);
  const spots = findHoles(straight).filter((spot) => Math.hypot(spot.x, spot.y) < OPENING_RADIUS);
  const round = spots.filter((spot) => spot.round);
  if (!round.length) return { refused: "no-holes" };
  const rim = findRim(picture, plane, round, grain / 2);
  if (!rim || rim.good < LEAST_GOOD) return { refused: "rim-not-seen" };
  const edge = circleOf(rim);
  const half = (straight.width - 1) / 2;
  const face = straight.pixels.filter((_, at) =>
    distance(edge, { x: ((at % straight.width) - half) * GRAIN, y: (Math.floor(at / straight.width) - half) * GRAIN }) < edge.radius - 2);
  if (face.filter((value) => value >= GLARE).length > MOST_GLARE * face.length) return { refused: "glare" };
  // The gap round the grate has its middle within the rim, but reaches as far.
  const within = spots.filter((spot) => distance(spot, edge) + spot.reach < 0.97 * edge.radius);
  const holes = traceHoles(picture, plane, within, grain / 2);
  if (!holes?.length) return { refused: "holes-differ" };
  return { ...describe(holes, rim, measureWith(plane, grain, far, setup)), tilt, distance: far, blur, marks: frame.marks };
}

/** @type {(holes: Outline[], rim: Outline, measure: (ends: [Point, Point]) => Sure) => Pick<GrateFigures, "holes" | "web">} */
function describe(holes, rim, measure) {
  const [cx, cy] = rim.centre;
  const webs = holes.flatMap((one, at) => holes.slice(0, at).map((other) => {
    const [a, b] = [circleOf(one), circleOf(other)];
    return findShortest(one, Math.atan2(b.y - a.y, b.x - a.x), ([x, y]) => pointOf(other, Math.atan2(y - other.centre[1], x - other.centre[0])));
  }));
  return {
    holes: holes.map((hole) => {
      const { x, y, radius } = circleOf(hole);
      const outward = findShortest(hole, Math.atan2(y - cy, x - cx), ([a, b]) => pointOf(rim, Math.atan2(b - cy, a - cx)));
      return { x, y, width: measure([[x - radius, y], [x + radius, y]]), margin: measure(outward.ends) };
    }),
    web: webs.length ? measure(webs.reduce((best, one) => (one.length < best.length ? one : best)).ends) : null,
  };
}
