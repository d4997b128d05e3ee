/**
 * A plane seen through a lens: a homography and one radial term, from marks of known places.
 *
 * Direct linear transformation on scaled points, then least squares in the picture, with the terms'
 * covariance: Hartley and Zisserman, Multiple View Geometry (2nd ed.), 4.1, 4.4, 5.2. The radial
 * term divides: Fitzgibbon, CVPR 2001. Inside, plane and picture are scaled to about 1.
 */

/** The solution of as many equations; not numbers where there is none. @type {Solve} */
export function solve(matrix, right) {
  const rows = matrix.map((row, at) => [...row, right[at]]);
  rows.forEach((_, at) => {
    const best = rows.reduce((one, row, to) => (to > at && Math.abs(row[at]) > Math.abs(rows[one][at]) ? to : one), at);
    [rows[at], rows[best]] = [rows[best], rows[at]];
    const pivot = rows[at].map((value) => value / rows[at][at]);
    rows.forEach((row, to) => (rows[to] = to === at ? pivot : row.map((value, column) => value - row[at] * pivot[column])));
  });
  return rows.map((row) => row[right.length]);
}

/** @type {(rows: Equation[]) => number[][]} */
const normalOf = (rows) => rows[0][0].map((_, at) => rows[0][0].map((__, to) => rows.reduce((sum, [row]) => sum + row[at] * row[to], 0)));

/** @type {LeastSquares} */
export const leastSquares = (rows) =>
  solve(normalOf(rows), rows[0][0].map((_, at) => rows.reduce((sum, [row, value]) => sum + row[at] * value, 0)));

/** A point through a homography of eight terms and perhaps a radial one. @type {Project} */
export function project([a, b, c, d, e, f, g, h, radial = 0], x, y) {
  const depth = g * x + h * y + 1;
  const right = (a * x + b * y + c) / depth;
  const down = (d * x + e * y + f) / depth;
  const root = 1 + Math.sqrt(Math.max(0, 1 - 4 * radial * (right * right + down * down)));
  return [(2 * right) / root, (2 * down) / root];
}

/** Eight terms from four or more pairs of points, both of about 1. @type {FitHomography} */
export const fitHomography = (from, to) =>
  leastSquares(from.flatMap(([x, y], at) => [
    [[x, y, 1, 0, 0, 0, -to[at][0] * x, -to[at][0] * y], to[at][0]],
    [[0, 0, 0, x, y, 1, -to[at][1] * x, -to[at][1] * y], to[at][1]],
  ]));

const STEP = 1e-6;
const ROUNDS = 12;
// Marks are hardly found better than this (pixels), however well few of them happen to fit.
const LEAST_RESIDUAL = 0.05;

/** The plane of marks, places in mm, seen in pixels of a picture of that size. @type {FitPlane} */
export function fitPlane(places, seen, { width, height }) {
  const unit = Math.hypot(width, height) / 2;
  const span = Math.max(...places.map((place) => Math.hypot(...place)));
  const frame = { unit, span, middle: [(width - 1) / 2, (height - 1) / 2] };
  const from = places.map(([x, y]) => [x / span, y / span]);
  const to = seen.map((point) => point.map((value, axis) => (value - frame.middle[axis]) / unit));
  let terms = [...fitHomography(from, to), 0];
  /** @type {Equation[]} */
  let rows = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    rows = from.flatMap(([x, y], at) => {
      const now = project(terms, x, y);
      const moved = terms.map((_, term) => project(terms.with(term, terms[term] + STEP), x, y));
      return now.map((value, axis) => /** @type {Equation} */ ([moved.map((one) => (one[axis] - value) / STEP), to[at][axis] - value]));
    });
    const move = leastSquares(rows);
    terms = terms.map((term, at) => term + move[at]);
  }
  const sum = rows.reduce((total, [, value]) => total + value * value, 0);
  const residual = Math.max(Math.sqrt(sum / (rows.length - terms.length)) * unit, LEAST_RESIDUAL);
  const normal = normalOf(rows);
  const covariance = normal.map((_, at) => solve(normal, normal.map((__, row) => (row === at ? (residual / unit) ** 2 : 0))));
  return { ...frame, terms, covariance, residual };
}

/** Where the picture shows a place. @type {Through} */
export function toPicture({ terms, middle, unit, span }, x, y) {
  const [right, down] = project(terms, x / span, y / span);
  return [right * unit + middle[0], down * unit + middle[1]];
}

/** The place that a point of the picture shows. @type {Through} */
export function toPlane({ terms: [a, b, c, d, e, f, g, h, radial], middle, unit, span }, x, y) {
  const right = (x - middle[0]) / unit;
  const down = (y - middle[1]) / unit;
  const times = 1 + radial * (right * right + down * down);
  const last = a * e - b * d;
  const back = [e - f * h, c * h - b, b * f - c * e, f * g - d, a - c * g, c * d - a * f, d * h - e * g, b * g - a * h];
  return project(back.map((one) => one / last), right / times, down / times).map((one) => one * span);
}

/** Standard uncertainty (mm) of the distance of two places from the terms: JCGM 100:2008, 5.2.2.
 * @type {UncertaintyOfLength} */
export function uncertaintyOfLength(plane, ...ends) {
  const seen = ends.map(([x, y]) => toPicture(plane, x, y));
  const slopes = plane.terms.map((term, at) => {
    const moved = { ...plane, terms: plane.terms.with(at, term + STEP) };
    const [one, other] = seen.map(([x, y]) => toPlane(moved, x, y));
    return (Math.hypot(one[0] - other[0], one[1] - other[1]) - Math.hypot(ends[0][0] - ends[1][0], ends[0][1] - ends[1][1])) / STEP;
  });
  const variance = slopes.reduce((sum, one, at) => sum + slopes.reduce((part, other, to) => part + one * other * plane.covariance[at][to], 0), 0);
  // Rounding may leave a hair below zero where two places move as one.
  return Math.sqrt(Math.max(0, variance));
}

/** How far the camera was (mm) and how much tilted (degrees), for a focal length in half diagonals
 * of the picture: Zhang, IEEE PAMI 22 (2000), 3.1. @type {FindCamera} */
export function findCamera({ terms: [a, b, c, d, e, f, g, h], span }, focal) {
  const first = [a / focal, d / focal, g];
  const second = [b / focal, e / focal, h];
  const [x, y, z] = [1, 2, 0].map((at, to) => first[at] * second[3 - at - to] - first[3 - at - to] * second[at]);
  const normal = Math.hypot(x, y, z);
  const size = (Math.hypot(...first) + Math.hypot(...second)) / 2;
  return {
    distance: (Math.abs((x * c + y * f) / focal + z) / normal / size) * span,
    tilt: (Math.acos(Math.abs(z) / normal) * 180) / Math.PI,
  };
}
