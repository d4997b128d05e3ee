/**
 * The printed frame in a picture: twelve black squares of 10 mm round an opening.
 * Places in mm from the sheet's middle, right and down. Half a turn changes nothing. Uneven gaps: a
 * tiled floor has no such row.
 */

import { findSpots, meanOf, sample } from "./pixels.js";
import { fitHomography, fitPlane, project, toPicture } from "./plane.js";

export const MARK_SIDE = 10;
/** The largest circle that may be cut out. */
export const OPENING_RADIUS = 95;
/** The control ruler as it should be printed. */
export const RULER_LENGTH = 180;

const COLUMNS = [-92, -36, 28, 92];
const SIDES = [-76, 88];
const HALF_HEIGHTS = { a4: 135, letter: 126 };
const LEAST_MARKS = 10;
const MOST_SPOTS = 18;
const MOST_QUADS = 200;
// Between a mark and where four others foretell it, in squares of its own side.
const NEAREST = 0.5;
// How many marks would fill the quadrangle of the corners.
const CORNERS_IN_MARKS = 500;
// Sum for all marks that needs no better.
const SURE = 0.1;

/** Middles of the marks, clockwise from the top left. @type {(paper: "a4" | "letter") => Point[]} */
export function listMarks(paper) {
  const half = [...COLUMNS.map((x) => [x, -HALF_HEIGHTS[paper]]), ...SIDES.map((y) => [92, y])];
  return [...half, ...half.map(([x, y]) => [-x, -y])];
}

/** @type {(picture: Grey) => Spot[]} */
function findSquares(picture) {
  const { pixels, width } = picture;
  const smooth = meanOf(picture, 1);
  const around = meanOf(picture, Math.round(width / 21));
  return findSpots(picture, (at) => smooth[at] < 0.5 * around[at], pixels.length / 20000)
    .filter(({ area, edge, stretch, square, fill }) =>
      !edge && area < pixels.length / 150 && stretch < 2.6 && Math.abs(square - 0.4) < 0.18 && Math.abs(fill - 0.95) < 0.1)
    .sort((one, other) => Math.abs(one.square - 0.4) - Math.abs(other.square - 0.4))
    .slice(0, MOST_SPOTS);
}

/** Places of a ring of twelve to begin with: its corners, or a neighbour of one that is hidden. */
const BASES = [0, 0, 3, 6, 9, 0, 3, 6, 9].map((hidden, at) =>
  [0, 3, 6, 9].map((corner) => (at && corner === hidden ? (corner + (at > 4 ? 11 : 1)) % 12 : corner)));

/** Every four of the spots, clockwise, that enclose about as much as a frame's corners, the likeliest first.
 * @type {(spots: Spot[]) => Spot[][]} */
function listQuads(spots) {
  const pairs = spots.flatMap((one, at) => spots.slice(0, at).map((other) => [other, one]));
  const quads = pairs.flatMap(([a, b]) => pairs.filter(([c]) => spots.indexOf(c) > spots.indexOf(b)).map(([c, d]) => {
    const four = [a, b, c, d];
    const x = (a.x + b.x + c.x + d.x) / 4;
    const y = (a.y + b.y + c.y + d.y) / 4;
    return four.sort((one, other) => Math.atan2(one.y - y, one.x - x) - Math.atan2(other.y - y, other.x - x));
  })).map(([a, b, c, d]) => {
    const area = 2 * ((c.x - a.x) * (d.y - b.y) - (c.y - a.y) * (d.x - b.x));
    return { four: [a, b, c, d], off: Math.abs(Math.log(area / (a.area + b.area + c.area + d.area) / CORNERS_IN_MARKS)) };
  });
  return quads.filter(({ off }) => off < 0.65).sort((one, other) => one.off - other.off).slice(0, MOST_QUADS).map(({ four }) => four);
}

/** The spots that lie best as the marks of one of the sheets: each mark's spot, or none.
 * @type {(spots: Spot[], scale: number) => {marks: Point[], found: (Spot | null)[], far: number}} */
function findBest(spots, scale) {
  /** @type {ReturnType<typeof findBest>} */
  let best = { marks: [], found: [], far: Infinity };
  const quads = listQuads(spots);
  for (const base of BASES) {
    for (const quad of quads) {
      const points = quad.map(({ x, y }) => [x / scale, y / scale]);
      for (const marks of [listMarks("a4"), listMarks("letter")]) {
        for (let turn = 0; turn < 4; turn += 1) {
          const terms = fitHomography(base.map((_, at) => marks[base[(at + turn) % 4]].map((one) => one / 100)), points);
          let far = 0;
          const found = marks.map(([x, y]) => {
            const [right, down] = project(terms, x / 100, y / 100);
            /** @type {(spot: Spot) => number} */
            const away = (spot) => ((spot.x - right * scale) ** 2 + (spot.y - down * scale) ** 2) / spot.area;
            const spot = spots.reduce((one, other) => (away(other) < away(one) ? other : one));
            far += Math.min(away(spot), NEAREST) || 0;
            return away(spot) < NEAREST ? spot : null;
          });
          if (far < best.far) best = { marks, found, far };
          if (far < SURE) return best;
        }
      }
    }
  }
  return best;
}

/** Middle and area of a mark to a fraction of a pixel, each pixel weighed as it is darker than the
 * paper; and the standard deviation of its edges' blur.
 * @type {(picture: Grey, spot: Spot) => {middle: Point, area: number, blur: number}} */
function refineMark(picture, { x, y, reach }) {
  const half = Math.ceil(1.6 * reach + 2);
  const paper = [-half, half].flatMap((a) => [-half, half].map((b) => sample(picture, x + a, y + b))).sort((a, b) => a - b)[1];
  const ink = sample(picture, x, y);
  let [area, between, sum, right, down] = [0, 0, 0, 0, 0];
  for (let row = -half; row <= half; row += 1) {
    for (let column = -half; column <= half; column += 1) {
      const dark = Math.min(1, (paper - sample(picture, x + column, y + row)) / (paper - ink));
      const share = Math.max(0, dark - 0.15);
      area += dark;
      between += Number(dark > 0.2 && dark < 0.8);
      sum += share;
      right += share * column;
      down += share * row;
    }
  }
  // A Gaussian edge takes 1.68 deviations from a fifth to four fifths.
  return { middle: [x + right / sum, y + down / sum], area, blur: between / (4 * Math.sqrt(area) * 1.68) };
}

/** The plane of the frame with mm to a pixel and the blur in mm, or why there is none.
 * @type {(picture: Grey) => {refused: string} | {plane: Plane, grain: number, blur: number, marks: number}} */
export function findFrame(picture) {
  const { marks, found } = findBest(findSquares(picture), picture.width);
  const places = marks.filter((_, at) => found[at]);
  const count = places.length;
  if (count < LEAST_MARKS) return { refused: count < 6 ? "no-frame" : "few-marks" };
  const seen = found.flatMap((spot) => (spot ? refineMark(picture, spot) : []));
  const plane = fitPlane(places, seen.map((one) => one.middle), picture);
  const grains = seen.map(({ area }) => MARK_SIDE / Math.sqrt(area));
  // A mark has its size: dark squares that only lie so are no frame.
  const odd = places.filter(([x, y], at) => {
    const [here, right, down] = [[x, y], [x + 1, y], [x, y + 1]].map(([a, b]) => toPicture(plane, a, b));
    const scale = (right[0] - here[0]) * (down[1] - here[1]) - (right[1] - here[1]) * (down[0] - here[0]);
    return Math.abs(grains[at] * Math.sqrt(scale) - 1) > 0.2;
  });
  if (odd.length > 2) return { refused: "no-frame" };
  const grain = grains.reduce((sum, one) => sum + one, 0) / count;
  return { plane, grain, marks: count, blur: (seen.reduce((sum, one) => sum + one.blur, 0) / count) * grain };
}
