/**
 * The outline of a hole or of the rim, ray by ray, to a fraction of a pixel, in millimetres of the
 * plane: so a circle is a circle whatever the tilt.
 *
 * An edge is where the brightness changes most (the step of a blurred edge is steepest there).
 * The curve is a Fourier series of the radius, its outliers left out by the median absolute
 * deviation (Rousseeuw and Croux, JASA 88, 1993).
 */

import { sample } from "./pixels.js";
import { leastSquares, toPicture } from "./plane.js";

/** @typedef {import("./plane.js").Point} Point */
/** @typedef {import("./plane.js").Plane} Plane */
/**
 * A curve round a centre. good: share of the rays that agree; spread: their standard deviation, mm.
 * @typedef {{centre: Point, terms: number[], good: number, spread: number, rays: number}} Outline
 */
/** @typedef {{angle: number, radius: number}} Ray */

/** Brightness along a ray, the mean of three rays side by side: less noise, the same edge.
 * @param {import("./pixels.js").Picture} picture @param {Plane} plane @param {Point} centre
 * @param {number} angle @param {number} from @param {number} to @param {number} step */
function sampleRay(picture, plane, centre, angle, from, to, step) {
  const [a, b] = [Math.cos(angle), Math.sin(angle)];
  const values = [];
  for (let radius = from - 3 * step; radius <= to + 3 * step; radius += step) {
    let sum = 0;
    for (const aside of [-3 * step, 0, 3 * step]) {
      const [x, y] = toPicture(plane, [centre[0] + a * radius - b * aside, centre[1] + b * radius + a * aside]);
      sum += sample(picture, x, y);
    }
    values.push(sum / 3);
  }
  return values;
}

/** Steps of brightness along a ray from dark to bright outward (sign 1) or to dark (-1).
 * @param {import("./pixels.js").Picture} picture @param {Plane} plane @param {Point} centre
 * @param {number} angle @param {number} from @param {number} to @param {number} step @param {number} sign
 * @returns {{radius: number, height: number}[]} */
export function findSteps(picture, plane, centre, angle, from, to, step, sign) {
  const values = sampleRay(picture, plane, centre, angle, from, to, step);
  const rise = values.map((_, at) =>
    at < 3 || at > values.length - 4 ? 0
      : (sign * (values[at + 1] + values[at + 2] + values[at + 3] - values[at - 1] - values[at - 2] - values[at - 3])) / 3);
  const steps = [];
  for (let at = 4; at < rise.length - 4; at += 1) {
    if (rise[at] > 6 && rise[at] > rise[at - 1] && rise[at] >= rise[at + 1]) {
      const bend = rise[at - 1] - 2 * rise[at] + rise[at + 1];
      const shift = bend < 0 ? (rise[at - 1] - rise[at + 1]) / (2 * bend) : 0;
      steps.push({ radius: from + (at - 3 + shift) * step, height: rise[at] });
    }
  }
  return steps;
}

/** Half the width (mm) in which the second search looks about the first curve. */
const CLOSE = 1.2;

/** The outline by two searches: in all of [from, to] the step that `pick` takes of the clear ones,
 * then the highest step close to the curve through those.
 * @param {import("./pixels.js").Picture} picture @param {Plane} plane @param {Point} centre
 * @param {{from: number, to: number, step: number, sign: number, rays: number, order: number,
 *   pick: (clear: {radius: number}[]) => {radius: number} | undefined}} search
 * @returns {Outline | null} */
export function traceOutline(picture, plane, centre, { from, to, step, sign, rays, order, pick }) {
  const angles = Array.from({ length: rays }, (_, ray) => (2 * Math.PI * ray) / rays);
  const first = angles.flatMap((angle) => {
    const steps = findSteps(picture, plane, centre, angle, from, to, step, sign);
    const highest = Math.max(0, ...steps.map((one) => one.height));
    const edge = pick(steps.filter((one) => one.height > 0.5 * highest));
    return edge ? [{ angle, radius: edge.radius }] : [];
  });
  const rough = first.length > rays / 2 ? fitOutline(centre, first, order, rays) : null;
  if (!rough) return null;
  const second = angles.flatMap((angle) => {
    const radius = radiusAt(rough, angle);
    const steps = findSteps(picture, plane, centre, angle, radius - CLOSE, radius + CLOSE, step, sign);
    const edge = steps.reduce((best, one) => (one.height > best.height ? one : best), { radius: 0, height: 0 });
    return edge.height ? [{ angle, radius: edge.radius }] : [];
  });
  return second.length > rays / 2 ? fitOutline(centre, second, order, rays) : null;
}

/** @param {number} angle @param {number} order */
function waves(angle, order) {
  const row = [1];
  for (let times = 1; times <= order; times += 1) row.push(Math.cos(times * angle), Math.sin(times * angle));
  return row;
}

/** @param {{terms: number[]}} outline @param {number} angle */
export function radiusAt({ terms }, angle) {
  return waves(angle, (terms.length - 1) / 2).reduce((sum, wave, at) => sum + wave * terms[at], 0);
}

/** @param {number[]} values */
export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1];
}

/** The curve through most of the rays; none if they are too few.
 * @param {Point} centre @param {Ray[]} rays @param {number} order @param {number} asked rays looked for
 * @returns {Outline | null} */
export function fitOutline(centre, rays, order, asked) {
  let kept = rays;
  let terms = [median(rays.map((ray) => ray.radius)), ...new Array(2 * order).fill(0)];
  for (let round = 0; round < 6; round += 1) {
    const off = rays.map((ray) => Math.abs(ray.radius - radiusAt({ terms }, ray.angle)));
    const limit = Math.max(3 * 1.4826 * median(off), 0.1);
    kept = rays.filter((_, at) => off[at] < limit);
    if (kept.length < 4 * order + 4) return null;
    const fitted = leastSquares(kept.map((ray) => [waves(ray.angle, order), ray.radius]));
    if (!fitted) return null;
    terms = fitted;
  }
  const sum = kept.reduce((total, ray) => total + (ray.radius - radiusAt({ terms }, ray.angle)) ** 2, 0);
  const spread = Math.sqrt(sum / (kept.length - terms.length));
  return { centre, terms, good: kept.length / asked, spread, rays: kept.length };
}

/** Middle and mean radius of a curve: of first order its shift from the centre.
 * @param {Outline} outline */
export function circleOf({ centre, terms }) {
  return { x: centre[0] + terms[1], y: centre[1] + terms[2], radius: terms[0] };
}
