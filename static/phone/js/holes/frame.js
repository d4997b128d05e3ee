/**
 * The printed frame in a picture: twelve black squares of 10 mm round an opening.
 *
 * Places are millimetres from the sheet's middle, to the right and down. A sheet turned by half a
 * turn looks the same, which no length minds. Uneven gaps: a tiled floor has no such row.
 */

import { findSpots, meanOf, sample } from "./pixels.js";
import { fitHomography, fitPlane, project, toPicture, toPlane } from "./plane.js";

/** @typedef {import("./pixels.js").Picture} Picture */
/** @typedef {import("./pixels.js").Spot} Spot */
/** @typedef {import("./plane.js").Point} Point */
/** @typedef {import("./plane.js").Plane} Plane */

export const MARK_SIDE = 10;
const LEAST_MARKS = 10;
/** The largest circle that may be cut out. */
export const OPENING_RADIUS = 95;
/** The control ruler as it should be printed. */
export const RULER_LENGTH = 180;

const HALF_WIDTH = 92;
const HALF_HEIGHTS = { a4: 135, letter: 126 };
const COLUMNS = [-HALF_WIDTH, -36, 28, HALF_WIDTH];
const ROWS = [-88, 76];
const MOST_SPOTS = 30;
// Between a mark and where four others foretell it: its square in squares of the mark's side.
const NEAREST = 0.5;

/** Middles of the twelve marks, clockwise from the top left. @param {"a4" | "letter"} paper
 * @returns {Point[]} */
export function listMarks(paper) {
  const top = COLUMNS.map((x) => /** @type {Point} */ ([x, -HALF_HEIGHTS[paper]]));
  const right = ROWS.map((y) => /** @type {Point} */ ([HALF_WIDTH, -y])).reverse();
  const half = [...top, ...right];
  return [...half, ...half.map(([x, y]) => /** @type {Point} */ ([-x, -y]))];
}

/** Spots that may be marks. @param {Picture} picture @returns {Spot[]} */
function findSquares(picture) {
  const { pixels, width, height } = picture;
  const smooth = meanOf(picture, 1).pixels;
  const around = meanOf(picture, Math.round(Math.max(width, height) / 21)).pixels;
  const least = Math.max(36, (width * height) / 40000);
  return findSpots(picture, (at) => smooth[at] < 0.5 * around[at], least)
    .filter(({ area, edge, stretch, square, fill }) =>
      !edge && area < pixels.length / 150 && stretch < 2.6 && Math.abs(square - 0.4) < 0.18 && Math.abs(fill - 0.95) < 0.1)
    .sort((one, other) => Math.abs(one.square - 0.4) - Math.abs(other.square - 0.4))
    .slice(0, MOST_SPOTS);
}

/** Four indices of a ring of twelve to begin with: the corners, or a neighbour where one is hidden.
 * @returns {number[][]} */
function listBases() {
  const corners = [0, 3, 6, 9];
  const hidden = corners.flatMap((corner, at) =>
    [1, 11].map((step) => corners.map((one, other) => (other === at ? (corner + step) % 12 : one))));
  return [corners, ...hidden];
}

/** @param {Point[]} four clockwise @returns {boolean} */
function isConvex(four) {
  return four.every(([x, y], at) => {
    const [next, after] = [four[(at + 1) % 4], four[(at + 2) % 4]];
    return (next[0] - x) * (after[1] - next[1]) - (next[1] - y) * (after[0] - next[0]) > 0;
  });
}

/** Every four spots that may be the corners of a frame, clockwise. @param {Spot[]} spots */
function* listQuads(spots) {
  for (let a = 0; a < spots.length; a += 1)
    for (let b = a + 1; b < spots.length; b += 1)
      for (let c = b + 1; c < spots.length; c += 1)
        for (let d = c + 1; d < spots.length; d += 1) {
          const four = [spots[a], spots[b], spots[c], spots[d]];
          if (four.some(({ area }) => area > 8 * spots[a].area || spots[a].area > 8 * area)) continue;
          const x = (four[0].x + four[1].x + four[2].x + four[3].x) / 4;
          const y = (four[0].y + four[1].y + four[2].y + four[3].y) / 4;
          four.sort((one, other) => Math.atan2(one.y - y, one.x - x) - Math.atan2(other.y - y, other.x - x));
          const points = four.map((spot) => /** @type {Point} */ ([spot.x, spot.y]));
          if (isConvex(points)) yield { points, area: four.reduce((sum, spot) => sum + spot.area, 0) / 4 };
        }
}

/** Twice the area. @param {Point[]} four */
function spread(four) {
  return Math.abs((four[2][0] - four[0][0]) * (four[3][1] - four[1][1]) - (four[2][1] - four[0][1]) * (four[3][0] - four[1][0]));
}

/** For each mark the spot that lies where it should, or none; count of them, and how far they are.
 * @param {number[]} terms @param {Point[]} marks @param {Spot[]} spots */
function match(terms, marks, spots) {
  let far = 0;
  const found = marks.map(([x, y]) => {
    const [right, down] = project(terms, x, y);
    let [best, nearest] = [null, Infinity];
    for (const spot of spots) {
      const away = ((spot.x - right) ** 2 + (spot.y - down) ** 2) / spot.area;
      if (away < nearest) [best, nearest] = [spot, away];
    }
    far += Math.min(nearest, NEAREST);
    return nearest < NEAREST ? /** @type {Spot | null} */ (best) : null;
  });
  return { marks, found, far, count: found.filter(Boolean).length };
}

/** The most marks that lie as on one of the two sheets. @param {Spot[]} spots */
function findBest(spots) {
  /** @type {{marks: Point[], found: (Spot | null)[], far: number, count: number}} */
  let best = { marks: [], found: [], far: Infinity, count: 0 };
  const papers = [listMarks("a4"), listMarks("letter")];
  for (const base of listBases()) {
    for (const { points, area } of listQuads(spots)) {
      const ratio = spread(points) / 2 / area;
      if (ratio < 250 || ratio > 1000) continue;
      for (const marks of papers) {
        for (let turn = 0; turn < 4; turn += 1) {
          const from = base.map((_, at) => marks[base[(at + turn) % 4]]);
          const terms = fitHomography(from, points);
          const matched = terms && match(terms, marks, spots);
          if (matched && matched.far < best.far) best = matched;
        }
      }
    }
    if (best.count === 12) break;
  }
  return best;
}

/** The plane of the printed frame, or why there is none.
 * @param {Picture} picture
 * @returns {{refused: string, marks: number} | {plane: Plane, seen: Point[], places: Point[]}} */
export function findFrame(picture) {
  const { marks, found, count } = findBest(findSquares(picture));
  if (count < 6) return { refused: "no-frame", marks: count };
  if (count < LEAST_MARKS) return { refused: "few-marks", marks: count };
  const places = marks.filter((_, at) => found[at]);
  const spots = /** @type {Spot[]} */ (found.filter(Boolean));
  const refined = spots.map((spot) => refineMark(picture, spot));
  const seen = refined.map((one) => one.middle);
  const plane = fitPlane(places, seen, picture);
  if (!plane) return { refused: "no-frame", marks: count };
  // A mark has its size: dark squares that only lie so are no frame.
  const odd = places.filter((place, at) => {
    const side = Math.sqrt(refined[at].area / scaleAt(plane, place));
    return Math.abs(side - MARK_SIDE) > 0.2 * MARK_SIDE;
  });
  return odd.length > 2 ? { refused: "no-frame", marks: count } : { plane, seen, places };
}

/** Square pixels to a square millimetre. @param {Plane} plane @param {Point} place */
export function scaleAt(plane, [x, y]) {
  const [here, right, down] = [toPicture(plane, [x, y]), toPicture(plane, [x + 1, y]), toPicture(plane, [x, y + 1])];
  return Math.abs((right[0] - here[0]) * (down[1] - here[1]) - (right[1] - here[1]) * (down[0] - here[0]));
}

/** Middle and area of a mark to a fraction of a pixel: each pixel weighs as it is darker than the
 * paper. @param {Picture} picture @param {Spot} spot */
function refineMark(picture, { x, y, xx, yy }) {
  const [wide, high] = [2.2 * Math.sqrt(xx) + 2, 2.2 * Math.sqrt(yy) + 2];
  const corners = [-1, 1].flatMap((a) => [-1, 1].map((b) => sample(picture, x + a * wide, y + b * high)));
  const [paper, ink] = [corners.sort((a, b) => a - b)[1], sample(picture, x, y)];
  let [area, sum, right, down] = [0, 0, 0, 0];
  for (let row = Math.ceil(y - high); row <= y + high; row += 1) {
    for (let column = Math.ceil(x - wide); column <= x + wide; column += 1) {
      const dark = Math.min(1, (paper - sample(picture, column, row)) / (paper - ink));
      const share = Math.max(0, dark - 0.15);
      area += dark;
      sum += share;
      right += share * column;
      down += share * row;
    }
  }
  return { middle: /** @type {Point} */ (sum > 0 ? [right / sum, down / sum] : [x, y]), area };
}

/** How far an edge of the marks is smeared, mm: standard deviation of the blur, median of all.
 * @param {Picture} picture @param {Plane} plane @param {Point[]} places */
export function measureBlur(picture, plane, places) {
  const step = 0.1;
  const blurs = places.flatMap(([x, y]) => [[1, 0], [-1, 0], [0, 1], [0, -1]].map(([a, b]) => {
    const values = [];
    for (let far = 0; far < MARK_SIDE * 0.9; far += step) {
      const [right, down] = toPicture(plane, [x + a * far, y + b * far]);
      values.push(sample(picture, right, down));
    }
    const steepest = Math.max(...values.map((value, at) => value - (values[at - 4] ?? value))) / (4 * step);
    return (Math.max(...values) - Math.min(...values)) / (steepest * Math.sqrt(2 * Math.PI));
  }));
  return blurs.sort((a, b) => a - b)[blurs.length >> 1];
}
