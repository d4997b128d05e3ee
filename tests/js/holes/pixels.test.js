/** Pixels: means, closing, spots, least squares against what can be told without the program. */

import assert from "node:assert/strict";
import test from "node:test";

import { close, findSpots, leastSquares, sample, smooth } from "../../../static/phone/js/holes/pixels.js";

function paint(width, height, value) {
  const pixels = new Uint8Array(width * height);
  for (let at = 0; at < pixels.length; at += 1) pixels[at] = value(at % width, Math.floor(at / width));
  return { pixels, width, height };
}

test("a point is spread evenly to all sides and nothing is lost", () => {
  const point = paint(41, 41, (x, y) => (x === 20 && y === 20 ? 200 : 0));
  const { pixels } = smooth(point, 0.3);
  const at = (x, y) => pixels[y * 41 + x];
  // Both ways along both axes: (1 - a) / (1 + a) of it stays on each.
  assert.ok(Math.abs(at(20, 20) - 200 * (0.7 / 1.3) ** 2) < 0.01);
  for (const [x, y] of [[21, 20], [22, 23]]) {
    const same = [[x, y], [40 - x, y], [x, 40 - y], [y, x]].map(([right, down]) => at(right, down));
    for (const one of same) assert.ok(Math.abs(one - same[0]) < 1e-3);
  }
  assert.ok(Math.abs(at(21, 20) / at(20, 20) - 0.3) < 1e-4);
  assert.ok(Math.abs(pixels.reduce((sum, one) => sum + one) - 200) < 0.01);
});

test("an even picture stays as it is, at the edges too", () => {
  assert.ok(smooth(paint(9, 7, () => 90), 0.97).pixels.every((value) => value === 90));
});

test("least squares gives the line of a worked example", () => {
  // Points (1, 6), (2, 5), (3, 7), (4, 10): the line 3.5 + 1.4 x, by hand from the normal equations.
  const [start, slope] = leastSquares([[1, 1, 6], [1, 2, 5], [1, 3, 7], [1, 4, 10]]);
  assert.ok(Math.abs(start - 3.5) < 1e-9 && Math.abs(slope - 1.4) < 1e-9);
});

test("closing fills what is narrower than its square and keeps what is wider", () => {
  const isNarrow = (x, y) => (x - 40) ** 2 + (y - 40) ** 2 < 196;
  const isWide = (x, y) => x >= 80 && y >= 80;
  const picture = paint(140, 140, (x, y) => (isNarrow(x, y) || isWide(x, y) ? 20 : 200));
  const filled = close(picture);
  assert.equal(filled[40 * 140 + 40], 200);
  assert.equal(filled[110 * 140 + 110], 20);
  assert.equal(filled[79 * 140 + 79], 200);
  assert.equal(filled[81 * 140 + 81], 20);
});

test("brightness between pixels is linear, and the nearest beyond the edge", () => {
  const picture = paint(4, 4, (x, y) => 10 * x + 40 * y);
  assert.equal(sample(picture, [1.5, 2.25]), 105);
  assert.equal(sample(picture, [-300, 0]), 0);
});

test("a disc and a leaning square are told apart, with their middles", () => {
  const turned = (x, y, by) => [x * Math.cos(by) + y * Math.sin(by), y * Math.cos(by) - x * Math.sin(by)];
  const picture = paint(120, 60, (x, y) => {
    const [a, b] = turned(x - 90.3, (y - 29.6) * 1.5, 0.4);
    return (x - 30) ** 2 + ((y - 30) * 1.4) ** 2 < 400 || Math.max(Math.abs(a), Math.abs(b)) < 17 ? 0 : 255;
  });
  const spots = findSpots(picture, (at) => picture.pixels[at] < 128, 20);
  const [disc, square] = spots.sort((one, other) => one.middle[0] - other.middle[0]);
  assert.ok(disc.corner < 4.3 && square.corner > 5.4);
  assert.ok(Math.abs(disc.fill - 1) < 0.02 && Math.abs(square.fill - 0.955) < 0.02);
  assert.ok(Math.abs(disc.stretch - 1.4) < 0.03);
  assert.ok(Math.hypot(square.middle[0] - 90.3, square.middle[1] - 29.6) < 0.2);
  assert.ok(!disc.isCut && !square.isCut);
});

test("a spot at the side of the picture is said to be cut", () => {
  const picture = paint(30, 20, (x, y) => (x < 8 && y > 3 && y < 12 ? 0 : 255));
  const [spot] = findSpots(picture, (at) => picture.pixels[at] < 128, 20);
  assert.ok(spot.isCut);
});
