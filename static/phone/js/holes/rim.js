/** The rim of a grate: the curve on which it turns from bright to dark, chips left out. */

import { OPENING_RADIUS } from "./frame.js";
import { findSteps, radiusAt, traceOutline } from "./outline.js";
import { solve } from "./plane.js";

/** @typedef {import("./plane.js").Point} Point */
/** @typedef {import("./outline.js").Outline} Outline */
/** @typedef {{x: number, y: number, radius: number}} Circle */

const RAYS = 180;
const TRIALS = 300;
// Between a circle and the edges that count for it (mm): a grate is not quite round.
const NEAR = 1;
const ORDER = 3;

/** A fixed row of numbers that look drawn, 0 to 1: Park and Miller, CACM 31 (1988). */
function* draw() {
  for (let value = 1; ; value = (16807 * value) % 2147483647) yield value / 2147483647;
}

/** @param {Point} a @param {Point} b @param {Point} c @returns {Circle | null} */
function circleThrough(a, b, c) {
  const rows = [a, b, c].map(([x, y]) => [2 * x, 2 * y, 1]);
  const found = solve(rows, [a, b, c].map(([x, y]) => x * x + y * y));
  return found && { x: found[0], y: found[1], radius: Math.sqrt(Math.max(0, found[2] + found[0] ** 2 + found[1] ** 2)) };
}

/** The circle with edges on the most rays: random sample consensus, Fischler and Bolles, CACM 24
 * (1981).
 * @param {Point[][]} edges of each ray @param {Circle} around holes: the rim is outside of it */
function findCircle(edges, around) {
  const drawn = draw();
  const next = (/** @type {number} */ count) => Math.floor(/** @type {number} */ (drawn.next().value) * count);
  const some = edges.filter((ray) => ray.length);
  /** @type {{circle: Circle | null, count: number}} */
  let best = { circle: null, count: 0 };
  for (let trial = 0; some.length > 20 && trial < TRIALS; trial += 1) {
    const three = [0, 1, 2].map((third) => {
      const ray = some[Math.floor(((third + next(1000) / 1000) * some.length) / 3)];
      return ray[next(ray.length)];
    });
    const circle = circleThrough(three[0], three[1], three[2]);
    if (!circle || circle.radius > OPENING_RADIUS + 2) continue;
    if (circle.radius < around.radius + Math.hypot(circle.x - around.x, circle.y - around.y) - 1) continue;
    const near = (/** @type {Point} */ [x, y]) => Math.abs(Math.hypot(x - circle.x, y - circle.y) - circle.radius) < NEAR;
    const count = some.filter((ray) => ray.some(near)).length;
    if (count > best.count) best = { circle, count };
  }
  return best.circle;
}

/** @param {import("./pixels.js").Picture} picture @param {import("./plane.js").Plane} plane
 * @param {Circle[]} holes @param {number} step mm @returns {Outline | null} */
export function findRim(picture, plane, holes, step) {
  const x = holes.reduce((sum, hole) => sum + hole.x, 0) / holes.length;
  const y = holes.reduce((sum, hole) => sum + hole.y, 0) / holes.length;
  const reach = Math.max(...holes.map((hole) => Math.hypot(hole.x - x, hole.y - y) + hole.radius));
  const inHole = (/** @type {Point} */ [a, b]) => holes.some((hole) => Math.hypot(a - hole.x, b - hole.y) < hole.radius + 1);
  const edges = Array.from({ length: RAYS }, (_, ray) => {
    const angle = (2 * Math.PI * ray) / RAYS;
    const steps = findSteps(picture, plane, [x, y], angle, 0.85 * reach, OPENING_RADIUS + 10, step, -1);
    const highest = Math.max(...steps.map((one) => one.height));
    return steps
      .filter((one) => one.height > 0.3 * highest)
      .map(({ radius }) => /** @type {Point} */ ([x + radius * Math.cos(angle), y + radius * Math.sin(angle)]))
      .filter((place) => !inHole(place));
  });
  const circle = findCircle(edges, { x, y, radius: reach });
  return circle && traceOutline(picture, plane, [circle.x, circle.y], {
    ...{ from: circle.radius - 3, to: circle.radius + 3, step, sign: -1 },
    // The grate's own side may be seen below the rim: the innermost clear step is the edge.
    ...{ rays: RAYS, order: ORDER, pick: (clear) => clear[0] },
  });
}

/** Smallest distance of a hole's outline from the rim, and the two points.
 * @param {Outline} rim @param {Outline} hole */
export function marginOf(rim, hole) {
  const middle = [hole.centre[0] + hole.terms[1], hole.centre[1] + hole.terms[2]];
  const outward = Math.atan2(middle[1] - rim.centre[1], middle[0] - rim.centre[0]);
  let best = { length: Infinity, from: /** @type {Point} */ ([0, 0]), to: /** @type {Point} */ ([0, 0]) };
  for (let turn = -0.5; turn <= 0.5; turn += 0.05) {
    const angle = outward + turn;
    const radius = radiusAt(hole, angle);
    /** @type {Point} */
    const from = [hole.centre[0] + radius * Math.cos(angle), hole.centre[1] + radius * Math.sin(angle)];
    const [x, y] = [from[0] - rim.centre[0], from[1] - rim.centre[1]];
    const direction = Math.atan2(y, x);
    const edge = radiusAt(rim, direction);
    const length = edge - Math.hypot(x, y);
    /** @type {Point} */
    const to = [rim.centre[0] + edge * Math.cos(direction), rim.centre[1] + edge * Math.sin(direction)];
    if (length < best.length) best = { length, from, to };
  }
  return best;
}
