/**
 * A plane seen through a lens: a homography and one radial term, fitted to marks of known places.
 *
 * Sources: normalised direct linear transformation and its refinement by least squares in the
 * picture: Hartley and Zisserman, Multiple View Geometry (2nd ed.), 4.1, 4.4 and 5.2 (covariance);
 * the radial term as division of the radius: Fitzgibbon, CVPR 2001; steps of the refinement:
 * Marquardt, SIAM J. Appl. Math. 11 (1963).
 *
 * Lengths of the plane are millimetres, of the picture pixels. Inside, both are scaled to about 1,
 * the picture from its middle, where the radial term has its centre.
 */

/** @typedef {[number, number]} Point */
/**
 * terms: h11 .. h32 and the radial term; covariance: of the terms; residual: standard deviation of
 * a mark's coordinate in pixels, over the degrees of freedom.
 * @typedef {{terms: number[], covariance: number[][], residual: number, middle: Point,
 *   unit: number, origin: Point, span: number, inverse: number[]}} Plane
 */

const TERMS = 9;
// Marks are hardly found better than this, however well few of them happen to fit.
const LEAST_RESIDUAL = 0.05;

/** The solution of a square system of equations by elimination; none where it has none.
 * @param {number[][]} matrix @param {number[]} right */
export function solve(matrix, right) {
  const size = right.length;
  const rows = matrix.map((row, at) => [...row, right[at]]);
  for (let at = 0; at < size; at += 1) {
    let best = at;
    for (let row = at + 1; row < size; row += 1) {
      if (Math.abs(rows[row][at]) > Math.abs(rows[best][at])) best = row;
    }
    [rows[at], rows[best]] = [rows[best], rows[at]];
    if (!(Math.abs(rows[at][at]) > 1e-12)) return null;
    for (let row = at + 1; row < size; row += 1) {
      const times = rows[row][at] / rows[at][at];
      for (let column = at; column <= size; column += 1) rows[row][column] -= times * rows[at][column];
    }
  }
  const solution = new Array(size).fill(0);
  for (let at = size - 1; at >= 0; at -= 1) {
    let sum = rows[at][size];
    for (let column = at + 1; column < size; column += 1) sum -= rows[at][column] * solution[column];
    solution[at] = sum / rows[at][at];
  }
  return solution;
}

/** Least squares by normal equations: rows of [coefficients, value].
 * @param {[number[], number][]} rows @param {number} [damping] */
export function leastSquares(rows, damping = 0) {
  const { matrix, right } = normal(rows);
  matrix.forEach((row, at) => (row[at] *= 1 + damping));
  return solve(matrix, right);
}

/** @param {[number[], number][]} rows */
function normal(rows) {
  const size = rows[0][0].length;
  const matrix = Array.from({ length: size }, () => new Array(size).fill(0));
  const right = new Array(size).fill(0);
  for (const [row, value] of rows) {
    for (let at = 0; at < size; at += 1) {
      right[at] += row[at] * value;
      for (let other = 0; other < size; other += 1) matrix[at][other] += row[at] * row[other];
    }
  }
  return { matrix, right };
}

/** Eight terms from four or more pairs of points, the ninth being 1; none if they lie badly.
 * @param {Point[]} from @param {Point[]} to */
export function fitHomography(from, to) {
  /** @type {[number[], number][]} */
  const rows = from.flatMap(([x, y], at) => {
    const [right, down] = to[at];
    return /** @type {[number[], number][]} */ ([
      [[x, y, 1, 0, 0, 0, -right * x, -right * y], right],
      [[0, 0, 0, x, y, 1, -down * x, -down * y], down],
    ]);
  });
  return from.length === 4
    ? solve(rows.map((row) => row[0]), rows.map((row) => row[1]))
    : leastSquares(rows);
}

/** @param {number[]} terms @param {number} x @param {number} y @returns {Point} */
export function project([a, b, c, d, e, f, g, h, i = 1], x, y) {
  const depth = g * x + h * y + i;
  return [(a * x + b * y + c) / depth, (d * x + e * y + f) / depth];
}

/** Where a point without distortion is seen. @param {Point} point @param {number} radial
 * @returns {Point} */
function distort([x, y], radial) {
  const root = Math.sqrt(Math.max(0, 1 - 4 * radial * (x * x + y * y)));
  return [(2 * x) / (1 + root), (2 * y) / (1 + root)];
}

/** @param {number[]} terms @param {Point} point */
function see(terms, [x, y]) {
  return distort(project(terms.slice(0, 8), x, y), terms[8]);
}

/** Terms moved to smaller residuals until they move no more.
 * @param {number[]} terms @param {Point[]} places @param {Point[]} seen */
function refine(terms, places, seen) {
  let [damping, best] = [1e-3, sumOfSquares(terms, places, seen)];
  for (let round = 0; round < 40 && damping < 1e6; round += 1) {
    const move = leastSquares(linearise(terms, places, seen), damping);
    const moved = terms.map((term, at) => term + (move?.[at] ?? 0));
    const sum = sumOfSquares(moved, places, seen);
    const still = !(best - sum > 1e-9 * best);
    damping *= sum < best ? 0.2 : 10;
    if (sum < best) [terms, best] = [moved, sum];
    if (still && damping < 1) break;
  }
  return { terms, sum: best };
}

/** @param {number[]} terms @param {Point[]} places @param {Point[]} seen */
function sumOfSquares(terms, places, seen) {
  return places.reduce((sum, place, at) => {
    const [x, y] = see(terms, place);
    return sum + (x - seen[at][0]) ** 2 + (y - seen[at][1]) ** 2;
  }, 0);
}

/** @param {number[]} terms @param {Point[]} places @param {Point[]} seen
 * @returns {[number[], number][]} */
function linearise(terms, places, seen) {
  const step = 1e-6;
  const moved = terms.map((_, term) => terms.map((value, at) => value + (at === term ? step : 0)));
  return places.flatMap((place, at) => {
    const now = see(terms, place);
    const then = moved.map((other) => see(other, place));
    return /** @type {[number[], number][]} */ (
      [0, 1].map((axis) => [then.map((one) => (one[axis] - now[axis]) / step), seen[at][axis] - now[axis]])
    );
  });
}

/** @param {number[]} terms @returns {number[]} */
function invert([a, b, c, d, e, f, g, h]) {
  return [e - f * h, c * h - b, b * f - c * e, f * g - d, a - c * g, c * d - a * f]
    .concat([d * h - e * g, b * g - a * h, a * e - b * d]);
}

/** The plane from marks: places in mm, seen in pixels of a picture of this size; none if the
 * marks are fewer than five or lie badly.
 * @param {Point[]} places @param {Point[]} seen @param {{width: number, height: number}} size
 * @returns {Plane | null} */
export function fitPlane(places, seen, { width, height }) {
  if (places.length < 5) return null;
  /** @type {Point} */
  const middle = [(width - 1) / 2, (height - 1) / 2];
  const unit = Math.hypot(width, height) / 2;
  /** @type {Point} */
  const origin = [mean(places.map((one) => one[0])), mean(places.map((one) => one[1]))];
  const span = Math.max(...places.map(([x, y]) => Math.hypot(x - origin[0], y - origin[1])));
  const from = places.map(([x, y]) => /** @type {Point} */ ([(x - origin[0]) / span, (y - origin[1]) / span]));
  const to = seen.map(([x, y]) => /** @type {Point} */ ([(x - middle[0]) / unit, (y - middle[1]) / unit]));
  const start = fitHomography(from, to);
  if (!start) return null;
  const { terms, sum } = refine([...start, 0], from, to);
  const free = 2 * places.length - TERMS;
  const residual = Math.max(Math.sqrt(sum / Math.max(free, 1)), LEAST_RESIDUAL / unit);
  const covariance = covarianceOf(linearise(terms, from, to), residual);
  const inverse = invert(terms);
  return covariance && { terms, covariance, residual: residual * unit, middle, unit, origin, span, inverse };
}

/** @param {[number[], number][]} rows @param {number} residual */
function covarianceOf(rows, residual) {
  const { matrix } = normal(rows);
  const columns = matrix.map((_, at) => solve(matrix, matrix.map((__, other) => (other === at ? 1 : 0))));
  if (columns.some((column) => !column)) return null;
  return /** @type {number[][]} */ (columns).map((column) => column.map((one) => one * residual ** 2));
}

/** @param {number[]} values */
export function mean(values) {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Place in the plane, mm, of a point of the picture. @param {Plane} plane @param {Point} point
 * @returns {Point} */
export function toPlane({ terms, inverse, middle, unit, origin, span }, [x, y]) {
  const [right, down] = [(x - middle[0]) / unit, (y - middle[1]) / unit];
  const times = 1 + terms[8] * (right * right + down * down);
  const [u, v] = project(inverse, right / times, down / times);
  return [u * span + origin[0], v * span + origin[1]];
}

/** Where the picture shows a place in the plane. @param {Plane} plane @param {Point} place
 * @returns {Point} */
export function toPicture({ terms, middle, unit, origin, span }, [x, y]) {
  const [a, b] = [(x - origin[0]) / span, (y - origin[1]) / span];
  const [right, down] = see(terms, [a, b]);
  return [right * unit + middle[0], down * unit + middle[1]];
}

/** Standard uncertainty (mm) of the distance of two points of the picture from the plane's terms:
 * JCGM 100:2008, 5.2.2, with their covariance.
 * @param {Plane} plane @param {Point} one @param {Point} other */
export function uncertaintyOfLength(plane, one, other) {
  const step = 1e-6;
  const length = (/** @type {number[]} */ terms) => {
    const seen = { ...plane, terms, inverse: invert(terms) };
    const [a, b] = [toPlane(seen, one), toPlane(seen, other)];
    return Math.hypot(a[0] - b[0], a[1] - b[1]);
  };
  const now = length(plane.terms);
  const slopes = plane.terms.map((_, term) =>
    (length(plane.terms.map((value, at) => value + (at === term ? step : 0))) - now) / step,
  );
  let variance = 0;
  slopes.forEach((slope, at) => slopes.forEach((other_, to) => (variance += slope * other_ * plane.covariance[at][to])));
  return Math.sqrt(Math.max(variance, 0));
}

/** Where the camera stood over the plane (mm) and how far it was tilted (degrees), for a lens of
 * this focal length in half diagonals of the picture: Zhang, IEEE PAMI 22 (2000), section 3.1.
 * @param {Plane} plane @param {number} focal */
export function findCamera({ terms, origin, span }, focal) {
  const [a, b, c, d, e, f, g, h] = terms;
  const [first, second] = [[a / focal, d / focal, g], [b / focal, e / focal, h]];
  const length = (Math.hypot(...first) + Math.hypot(...second)) / 2;
  const [p, q, t] = [first, second, [c / focal, f / focal, 1]].map((one) => one.map((value) => value / length));
  const n = [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];
  const dot = (/** @type {number[]} */ one) => one[0] * t[0] + one[1] * t[1] + one[2] * t[2];
  const tilt = (Math.acos(Math.min(1, Math.abs(n[2]) / Math.hypot(...n))) * 180) / Math.PI;
  return {
    foot: /** @type {Point} */ ([origin[0] - dot(p) * span, origin[1] - dot(q) * span]),
    distance: Math.abs(dot(n)) * span,
    tilt,
  };
}
