/**
 * Outlines of holes and rim: an edge on each ray to a fraction of a pixel, in mm of the plane, so
 * that a circle is a circle at any tilt; a Fourier series through them, outliers left out by their
 * median absolute deviation (Rousseeuw and Croux, JASA 88, 1993).
 */

import { sample } from "./pixels.js";
import { leastSquares, toPicture } from "./plane.js";

// Half the width (mm) in which the second search looks about the first curve.
const CLOSE = 1.2;
const LEAST_RISE = 6;

/** Where brightness rises (sign 1) or falls (-1) most along a ray; the mean of three side by side.
 * @type {FindSteps} */
export function findSteps(picture, plane, centre, angle, [from, to], step, sign) {
  const [a, b] = [Math.cos(angle) * step, Math.sin(angle) * step];
  const values = Array.from({ length: Math.round((to - from) / step) + 7 }, (_, at) => {
    let sum = 0;
    for (const aside of [-3, 0, 3]) {
      const along = from / step + at - 3;
      const [x, y] = toPicture(plane, centre[0] + a * along - b * aside, centre[1] + b * along + a * aside);
      sum += sample(picture, x, y);
    }
    return (sign * sum) / 3;
  });
  const rise = values.map((_, at) =>
    (values[at + 1] + values[at + 2] + values[at + 3] - values[at - 1] - values[at - 2] - values[at - 3]) / 3);
  return rise.flatMap((height, at) => {
    if (!(height > LEAST_RISE && height > rise[at - 1] && height >= rise[at + 1])) return [];
    const shift = (rise[at - 1] - rise[at + 1]) / (rise[at - 1] - 2 * height + rise[at + 1]) / 2;
    return [{ radius: from + (at - 3 + shift) * step, height }];
  });
}

/** @type {(angle: number, terms: number[]) => number[]} */
const waves = (angle, terms) =>
  terms.map((_, at) => (at % 2 ? Math.cos(((at + 1) / 2) * angle) : at ? Math.sin((at / 2) * angle) : 1));

/** @type {(outline: {terms: number[]}, angle: number) => number} */
export const radiusAt = ({ terms }, angle) => waves(angle, terms).reduce((sum, wave, at) => sum + wave * terms[at], 0);

/** @type {(values: number[]) => number} */
export const median = (values) => values.toSorted((a, b) => a - b)[values.length >> 1];

/** @type {(rays: Ray[], count: number) => {terms: number[], kept: Ray[]}} */
function fitSeries(rays, count) {
  let terms = [median(rays.map((ray) => ray.radius)), ...new Array(count - 1).fill(0)];
  let kept = rays;
  for (let round = 0; round < 6; round += 1) {
    const off = rays.map((ray) => Math.abs(ray.radius - radiusAt({ terms }, ray.angle)));
    const limit = Math.max(3 * 1.4826 * median(off), 0.1);
    kept = rays.filter((_, at) => off[at] < limit);
    terms = leastSquares(kept.map((ray) => [waves(ray.angle, terms), ray.radius]));
  }
  return { terms, kept };
}

/** The outline by two searches: in a range the step that `pick` takes of the clear ones, then the
 * highest close to the curve through those. @type {TraceOutline} */
export function traceOutline(picture, plane, centre, { range, step, sign, count, terms, pick }) {
  const angles = Array.from({ length: count }, (_, ray) => (2 * Math.PI * ray) / count);
  /** @type {(within: (angle: number) => number[], choose: (steps: Edge[]) => Edge | undefined) => ReturnType<typeof fitSeries> | null} */
  const search = (within, choose) => {
    const rays = angles.flatMap((angle) => {
      const edge = choose(findSteps(picture, plane, centre, angle, within(angle), step, sign));
      return edge ? [{ angle, radius: edge.radius }] : [];
    });
    return rays.length > count / 2 ? fitSeries(rays, terms) : null;
  };
  const highest = (/** @type {Edge[]} */ steps) => Math.max(...steps.map((one) => one.height));
  const rough = search(() => range, (steps) => pick(steps.filter((one) => one.height > 0.5 * highest(steps))));
  const fine = rough && search(
    (angle) => [radiusAt(rough, angle) - CLOSE, radiusAt(rough, angle) + CLOSE],
    (steps) => steps.find((one) => one.height === highest(steps)),
  );
  return fine && { centre, terms: fine.terms, good: fine.kept.length / count };
}

/** Its middle and mean radius. @type {(outline: Outline) => Circle} */
export const circleOf = ({ centre, terms }) => ({ x: centre[0] + terms[1], y: centre[1] + terms[2], radius: terms[0] });

/** The shortest way from a hole's outline to what `reach` gives for each of its points.
 * @type {Shortest} */
export function findShortest(hole, toward, reach) {
  let best = { length: Infinity, ends: /** @type {[Point, Point]} */ ([[0, 0], [0, 0]]) };
  for (let turn = -0.5; turn <= 0.5; turn += 0.05) {
    const from = pointOf(hole, toward + turn);
    const to = reach(from);
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    if (length < best.length) best = { length, ends: [from, to] };
  }
  return best;
}

/** @type {(outline: Outline, angle: number) => Point} */
export function pointOf(outline, angle) {
  const radius = radiusAt(outline, angle);
  return [outline.centre[0] + radius * Math.cos(angle), outline.centre[1] + radius * Math.sin(angle)];
}
