/** Holes of a grate in a picture: proposed or refused; a person decides. */

import {
  findFrame, findPlaces, OPENING_RADIUS, RULER_LENGTH, straighten, toPicture,
} from "./frame.js";
import { close, distance, leastSquares, sample, smooth, sumOf } from "./pixels.js";

const MOST_TILT = 35;
// Of the marks from the plane, of the blur's deviation, of the face above or below the frame: mm.
const MOST_RESIDUAL = 0.35;
const MOST_BLUR = 1.3;
const MOST_STEP = 30;
const GLARE = 250;
const LEAST_GLARE = 300;
// A hole is darker than these shares of what is round it: the second parts it from a shadow.
const LEVELS = [0.62, 0.5];
const LEAST_RISE = 6;
// Of the rays; to the usual radius; to the hole's own: of two that ran into each other.
const LEAST_GOOD = 0.6;
const ONE_KIND = 1.3;
const MOST_OVAL = 0.12;
// Of the uncertainty: tests/holes/README.md.
const COVERAGE = 2;
const EDGE = 0.15;
const MISFIT = 3;
const FOCAL_SPREAD = 0.12;
const RULER_READ_TO = 0.5;
const STEP_LAID_TO = 1;

/** @type {RayAt} */
const rayAt = (angle) =>
  [1, ...[1, 2, 3].flatMap((times) => [Math.cos(times * angle), Math.sin(times * angle)])];
const RAYS = Array.from({ length: 90 }, (_, at) => rayAt((at * Math.PI) / 45));

/** @type {Median} */
const median = (values) => values.toSorted((a, b) => a - b)[values.length >> 1];

/** Dark spots, round ones first. @type {FindHoles} */
export function findHoles(straight, levels = LEVELS) {
  const { pixels } = straight;
  const bright = close(straight);
  return levels.flatMap((level) =>
    findPlaces(straight, (at) => pixels[at] < Math.min(level * bright[at], bright[at] - 12), 6),
  ).sort((one, other) => Number(other.isRound) - Number(one.isRound));
}

/** @type {FindSteps} */
function findSteps({ picture, plane, grain }, [x, y], [, cosine, sine], [from, to], sign) {
  const step = grain / 2;
  const values = Array.from({ length: Math.round((to - from) / step) + 5 }, (_, at) => {
    const along = from + (at - 2) * step;
    return sign * sample(picture, toPicture(plane, [x + along * cosine, y + along * sine]));
  });
  const rise = values.map((_, at) => values[at + 2] - values[at - 2]);
  return rise.flatMap((height, at) => {
    const [before, after] = [rise[at - 1], rise[at + 1]];
    if (!(height > LEAST_RISE && height > before && height >= after)) return [];
    const shift = (before - after) / (before - 2 * height + after) / 2;
    return [{ height, radius: from + (at - 2 + shift) * step }];
  });
}

/** @type {RadiusAt} */
const radiusAt = (terms, ray) => terms.reduce((sum, term, at) => sum + term * ray[at], 0);

/** Without those that lie off it. @type {FitSeries} */
function fitSeries(rows) {
  let terms = [median(rows.map((row) => row[7])), 0, 0, 0, 0, 0, 0];
  let kept = rows;
  for (let round = 0; round < 6; round += 1) {
    const off = rows.map((row) => Math.abs(row[7] - radiusAt(terms, row)));
    const limit = Math.max(3 * 1.4826 * median(off), 0.1);
    kept = rows.filter((_, at) => off[at] < limit);
    terms = leastSquares(kept);
  }
  return { terms, good: kept.length / RAYS.length };
}

/** Of a hole (sign 1), whose lit wall steps too, the outermost clear step; of the rim (-1), below
 * which the side steps too, the innermost; then closer. @type {TraceOutline} */
function traceOutline(view, middle, range, sign) {
  /** @type {Outline | null} */
  let outline = null;
  for (const near of [0, 3, 1.5]) {
    if (outline) {
      middle = outline.middle;
      range = [outline.radius - near, outline.radius + near];
    }
    const rows = RAYS.flatMap((ray) => {
      const steps = findSteps(view, middle, ray, range, sign);
      const highest = Math.max(...steps.map((one) => one.height));
      const clear = steps.filter((one) => one.height >= (near ? 1 : 0.5) * highest);
      return clear.slice(sign > 0 ? -1 : 0).slice(0, 1).map((one) => [...ray, one.radius]);
    });
    if (rows.length < RAYS.length / 2) return null;
    const { terms, good } = fitSeries(rows);
    // A blurred edge seems to lie nearer to the middle of its curve: van Vliet and Verbeek 1994.
    if (sign > 0) terms[0] += view.blur ** 2 / (2 * terms[0]);
    const [radius, right, down] = terms;
    const centre = [middle[0] + right, middle[1] + down];
    outline = { good, terms, radius, origin: middle, middle: centre };
  }
  return outline;
}

/** @type {TraceHole} */
export const traceHole = (view, { middle, radius }) =>
  traceOutline(view, middle, [0.6 * radius, radius + Math.min(0.4 * radius, 3)], 1);

/** From the circle of the outermost holes' middles outwards. @type {TraceRim} */
function traceRim(view, holes) {
  const middle = [0, 1].map((axis) => sumOf(holes, (hole) => hole.middle[axis]) / holes.length);
  const from = Math.max(...holes.map((hole) => distance(hole.middle, middle)));
  return traceOutline(view, middle, [from, OPENING_RADIUS + 5], -1);
}

/** None if they are of two kinds or one is no hole. @type {TraceHoles} */
function traceHoles(view, spots) {
  const typical = median(spots.filter((spot) => spot.isRound).map((spot) => spot.radius));
  /** @type {Outline[]} */
  const holes = [];
  for (const spot of spots) {
    const isKnown = holes.some(({ middle, radius }) =>
      distance(middle, spot.middle) < Math.max(spot.radius, radius));
    if (isKnown || spot.radius < 0.55 * typical) continue;
    const hole = traceHole(view, spot.isRound ? spot : { ...spot, radius: typical });
    if (!hole || hole.good < LEAST_GOOD) return [];
    if (Math.hypot(hole.terms[3], hole.terms[4]) > MOST_OVAL * hole.radius) return [];
    if (Math.abs(Math.log(hole.radius / typical)) > Math.log(ONE_KIND)) return [];
    holes.push(hole);
  }
  return holes;
}

/** @type {MeasureWith} */
export const measureWith = ({ plane, grain, distance: far }, { ruler, step }) => (ends) => {
  const length = distance(...ends);
  const line = ends.map((place) => toPicture(plane, place));
  const parts = {
    plane: plane.residual * Math.sqrt((MISFIT * length) / OPENING_RADIUS),
    edge: Math.SQRT2 * EDGE * grain,
    height: (length * Math.hypot(STEP_LAID_TO / Math.sqrt(3), step * FOCAL_SPREAD)) / far,
    print: (length * RULER_READ_TO) / Math.sqrt(3) / ruler,
  };
  return {
    value: length * (ruler / RULER_LENGTH) * (1 - step / far),
    uncertainty: COVERAGE * Math.hypot(...Object.values(parts)),
    ...{ parts, line },
  };
};

/** @type {PointOf} */
function pointOf({ origin, terms }, ray) {
  const radius = radiusAt(terms, ray);
  return [origin[0] + radius * ray[1], origin[1] + radius * ray[2]];
}

/** @type {Shorter} */
const shorter = (one, other) => (distance(...other) < distance(...one) ? other : one);

/** From a point of a hole to another outline, towards the middle of that. @type {FindShortest} */
const findShortest = (hole, other) =>
  RAYS.map((ray) => {
    const from = pointOf(hole, ray);
    const angle = Math.atan2(from[1] - other.origin[1], from[0] - other.origin[0]);
    return /** @type {Ends} */ ([from, pointOf(other, rayAt(angle))]);
  }).reduce(shorter);

/** By the slope of a Gaussian edge. @type {FindBlur} */
function findBlur(view) {
  const all = view.places.map((place) => {
    const [ink, paper] = [0, 8].map((aside) =>
      sample(view.picture, toPicture(view.plane, [place[0] + aside, place[1]])));
    const steps = findSteps(view, place, RAYS[0], [2, 8], 1);
    const height = Math.max(...steps.map((one) => one.height));
    return (0.8 * view.grain * (paper - ink)) / height;
  });
  return sumOf(all, (one) => one) / all.length;
}

/** @type {MeasureGrate} */
export function measureGrate(seen, setup) {
  const isKnown = typeof setup.step === "number" && Math.abs(setup.step) <= MOST_STEP;
  if (!isKnown) return { refused: "height-not-flat" };
  const picture = smooth(seen, 0.3);
  const frame = findFrame(picture);
  if ("refused" in frame) return frame;
  if (frame.tilt > MOST_TILT) return { refused: "tilted" };
  if (!(frame.plane.residual < MOST_RESIDUAL)) return { refused: "marks-not-flat" };
  const blur = findBlur({ ...frame, picture, blur: 0 });
  if (blur > MOST_BLUR) return { refused: "blurred" };
  return measureHoles({ ...frame, picture, blur }, setup);
}

/** @type {MeasureHoles} */
function measureHoles(view, setup) {
  const straight = straighten(view.picture, view.plane);
  const spots = findHoles(straight).filter((spot) => Math.hypot(...spot.middle) < OPENING_RADIUS);
  const round = spots.filter((spot) => spot.isRound);
  if (!round.length) return { refused: "no-holes" };
  const rim = traceRim(view, round);
  if (!rim || rim.good < LEAST_GOOD) return { refused: "rim-not-seen" };
  // The gap round the grate has its middle within the rim, but reaches as far.
  /** @type {(spot: Place) => boolean} */
  const isWithin = (spot) => distance(spot.middle, rim.middle) + spot.reach < 0.97 * rim.radius;
  const white = findPlaces(straight, (at) => straight.pixels[at] >= GLARE, LEAST_GLARE);
  if (white.some(isWithin)) return { refused: "glare" };
  const holes = traceHoles(view, spots.filter(isWithin));
  if (!holes.length) return { refused: "holes-differ" };
  return describe(holes, rim, view, measureWith(view, setup));
}

/** @type {DescribeGrate} */
function describe(holes, rim, { tilt, blur, distance: far, places }, measure) {
  const webs = holes.flatMap((one, at) =>
    holes.slice(0, at).map((other) => findShortest(one, other)));
  return {
    holes: holes.map((hole) => {
      const { middle: [x, y], radius } = hole;
      const width = measure([[x - radius, y], [x + radius, y]]);
      return { x, y, width, margin: measure(findShortest(hole, rim)) };
    }),
    web: webs.length ? measure(webs.reduce(shorter)) : null,
    ...{ tilt, blur, distance: far, marks: places.length },
  };
}
