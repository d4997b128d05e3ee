/** Twelve printed squares in a picture and the plane they lie in (mm): tests/holes/README.md. */

import { distance, findSpots, leastSquares, sample, smooth, stretchOf, sumOf } from "./pixels.js";

export const MARK_SIDE = 10;
export const OPENING_RADIUS = 95;
export const RULER_LENGTH = 180;
const COLUMNS = [-92, -36, 28, 92];
const SIDES = [-76, 88];
const HALF_HEIGHTS = { a4: 135, letter: 126 };
const LEAST_MARKS = 10;
const MOST_SPOTS = 15;
// From where four others foretell a mark, and for all of them what needs no better: mm.
const NEAREST = 7;
const SURE = 35;
const NARROWEST_HOLE = 5;
// Of a straightened picture, mm to a pixel.
const GRAIN = 0.8;
// Of a phone's main lens, in half diagonals of the picture.
const FOCAL = 1.2;

/** @type {ListMarks} */
export function listMarks(paper) {
  const half = [...COLUMNS.map((x) => [x, -HALF_HEIGHTS[paper]]), ...SIDES.map((y) => [92, y])];
  return [...half, ...half.map(([x, y]) => [-x, -y])];
}

/** @type {ListEquations} */
const listEquations = (from, to) => from.flatMap(([x, y], at) => [
  [x, y, 1, 0, 0, 0, -to[at][0] * x, -to[at][0] * y, to[at][0]],
  [0, 0, 0, x, y, 1, -to[at][1] * x, -to[at][1] * y, to[at][1]],
]);

/** @type {FitHomography} */
export const fitHomography = (from, to) => leastSquares(listEquations(from, to));

/** @type {Project} */
export const project = ([a, b, c, d, e, f, g, h], [x, y]) =>
  [(a * x + b * y + c) / (g * x + h * y + 1), (d * x + e * y + f) / (g * x + h * y + 1)];

/** @type {FitPlane} */
export function fitPlane(places, seen, { width, height }) {
  const unit = Math.hypot(width, height) / 2;
  const middle = [(width - 1) / 2, (height - 1) / 2];
  const from = seen.map((point) => point.map((value, axis) => (value - middle[axis]) / unit));
  const equations = listEquations(from, places);
  let terms = new Array(9).fill(0);
  for (let round = 0; round < 6; round += 1) {
    terms = leastSquares(equations.map((row, at) => {
      const [x, y] = from[at >> 1];
      const square = x * x + y * y;
      // As a pixel weighs along the slope.
      const depth = terms[6] * x + terms[7] * y + 1;
      const radial = square * (terms[at % 2 ? 5 : 2] - row[8]);
      return row.toSpliced(8, 0, radial).map((one) => one * depth);
    }));
  }
  const corners = [[-1, -1], [1, -1], [1, 1], [-1, 1]];
  const back = fitHomography(corners.map((corner) => project(terms, corner)), corners);
  const plane = { terms, back, unit, middle };
  const squares = sumOf(seen, (point, at) => distance(toPlane(plane, point), places[at]) ** 2);
  return { ...plane, residual: Math.sqrt(squares / (2 * seen.length - 9)) };
}

/** @type {Through} */
export function toPlane({ terms, middle, unit }, point) {
  const [right, down] = point.map((value, axis) => (value - middle[axis]) / unit);
  const times = 1 + terms[8] * (right * right + down * down);
  return project(terms, [right / times, down / times]);
}

/** @type {Through} */
export function toPicture({ terms, back, middle, unit }, place) {
  const point = project(back, place);
  const root = 1 + Math.sqrt(Math.max(0, 1 - 4 * terms[8] * (point[0] ** 2 + point[1] ** 2)));
  return point.map((value, axis) => (2 * value * unit) / root + middle[axis]);
}

/** @type {FindCamera} */
export function findCamera(plane, [x, y] = plane.middle) {
  const points = [[x, y], [x + 1, y], [x, y + 1]];
  const [here, right, down] = points.map((point) => toPlane(plane, point));
  const [a, b] = [right[0] - here[0], down[0] - here[0]];
  const [c, d] = [right[1] - here[1], down[1] - here[1]];
  const grain = Math.sqrt(Math.abs(a * d - b * c));
  const stretch = stretchOf(a * a + b * b, a * c + b * d, c * c + d * d);
  const tilt = (Math.acos(1 / stretch) * 180) / Math.PI;
  return { grain, tilt, distance: (FOCAL * plane.unit * grain) / stretch ** 1.5 };
}

/** @type {FindSquares} */
function findSquares(picture) {
  const around = smooth(picture, 0.97).pixels;
  const size = around.length;
  return findSpots(picture, (at) => picture.pixels[at] < 0.5 * around[at], size / 20000, size / 150)
    .filter(({ isCut, stretch, corner, fill }) =>
      !isCut && stretch < 2.6 && Math.abs(corner - 5.3) < 0.9 && Math.abs(fill - 0.963) < 0.025)
    .sort((one, other) => Math.abs(one.fill - 0.963) - Math.abs(other.fill - 0.963))
    .slice(0, MOST_SPOTS);
}

/** @type {Choose} */
const choose = (list, count) => count
  ? list.flatMap((one, at) => choose(list.slice(at + 1), count - 1).map((rest) => [one, ...rest]))
  : [[]];

/** @type {FindBest} */
function findBest(spots, unit) {
  const points = spots.map(({ middle }) => middle.map((value) => value / unit));
  const [x, y] = [0, 1].map((axis) => sumOf(points, (point) => point[axis]) / points.length);
  /** @type {(point: Point) => number} */
  const angle = (point) => Math.atan2(point[1] - y, point[0] - x);
  const order = points.toSorted((one, other) => angle(one) - angle(other));
  /** @type {ReturnType<FindBest>} */
  let best = { marks: [], found: [], far: Infinity };
  for (const four of choose(order, 4)) {
    for (const marks of [listMarks("a4"), listMarks("letter")]) {
      for (const start of [0, 1, 2, 3, 4, 5]) {
        const terms = fitHomography(four, [0, 3, 6, 9].map((step) => marks[(start + step) % 12]));
        const next = { marks, ...compare(marks, points.map((point) => project(terms, point))) };
        if (next.far < best.far) best = next;
      }
    }
    if (best.far < SURE) break;
  }
  return best;
}

/** @type {Compare} */
function compare(marks, lands) {
  const away = marks.map((mark) => lands.map((land) => distance(land, mark)));
  const least = away.map((one) => Math.min(...one));
  return {
    far: sumOf(least, (one) => Math.min(one, NEAREST)),
    found: least.map((one, at) => (one < NEAREST ? away[at].indexOf(one) : -1)),
  };
}

/** @type {FindFrame} */
export function findFrame(picture) {
  const squares = findSquares(picture);
  const { marks, found } = findBest(squares, picture.width);
  const places = marks.filter((_, at) => found[at] >= 0);
  const spots = found.filter((at) => at >= 0).map((at) => squares[at]);
  if (spots.length < LEAST_MARKS) return { refused: spots.length < 8 ? "no-frame" : "few-marks" };
  const seen = spots.map((spot) => spot.middle);
  const plane = fitPlane(places, seen, picture);
  // A mark has its size: dark squares that only lie so are no frame.
  const odd = spots.filter(({ area, middle }) => {
    const side = Math.sqrt(area) * findCamera(plane, middle).grain;
    return Math.abs(side / MARK_SIDE - 1) > 0.2;
  });
  return odd.length > 2 ? { refused: "no-frame" } : { plane, places, ...findCamera(plane) };
}

/** From straight above. @type {Straighten} */
export function straighten(picture, plane) {
  const half = Math.round(OPENING_RADIUS / GRAIN);
  const width = 2 * half + 1;
  const pixels = new Float32Array(width * width).map((_, at) => {
    const place = [at % width, Math.floor(at / width)].map((one) => (one - half) * GRAIN);
    return sample(picture, toPicture(plane, place));
  });
  return { pixels, width, height: width };
}

/** Spots of a straightened picture, in mm. @type {FindPlaces} */
export const findPlaces = (straight, isWanted, least) =>
  findSpots(straight, isWanted, least / GRAIN ** 2).map((spot) => {
    const radius = Math.sqrt(spot.area / Math.PI) * GRAIN;
    const isRound = radius > NARROWEST_HOLE / 2 && spot.fill > 0.9 && spot.stretch < 1.4;
    const middle = spot.middle.map((value) => (value - (straight.width - 1) / 2) * GRAIN);
    return { middle, radius, reach: spot.reach * GRAIN, isRound };
  });
