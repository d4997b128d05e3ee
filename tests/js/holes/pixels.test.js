/** Pixels: means, closing, spots against what can be told without the program. */

import assert from "node:assert/strict";
import test from "node:test";

import { close, findSpots, meanOf, sample } from "../../../static/phone/js/holes/pixels.js";

function paint(width, height, value) {
  const pixels = new Uint8Array(width * height);
  for (let at = 0; at < pixels.length; at += 1) pixels[at] = value(at % width, Math.floor(at / width));
  return { pixels, width, height };
}

test("mean of a square is what a plain sum gives, at the edges too", () => {
  const picture = paint(23, 17, (x, y) => (x * 37 + y * 91) % 256);
  const means = meanOf(picture, 3);
  for (const [x, y] of [[0, 0], [22, 16], [11, 8], [2, 15]]) {
    let [sum, count] = [0, 0];
    for (let row = Math.max(0, y - 3); row <= Math.min(16, y + 3); row += 1) {
      for (let column = Math.max(0, x - 3); column <= Math.min(22, x + 3); column += 1) {
        sum += picture.pixels[row * 23 + column];
        count += 1;
      }
    }
    assert.equal(means[y * 23 + x], Math.floor(sum / count + 0.5));
  }
});

test("closing fills what is narrower than its square and keeps what is wider", () => {
  const picture = paint(60, 60, (x, y) => ((x - 15) ** 2 + (y - 15) ** 2 < 25 || (x >= 30 && y >= 30) ? 20 : 200));
  const filled = close(picture, 13);
  assert.equal(filled[15 * 60 + 15], 200);
  assert.equal(filled[45 * 60 + 45], 20);
  assert.equal(filled[29 * 60 + 29], 200);
  assert.equal(filled[31 * 60 + 31], 20);
});

test("brightness between pixels is linear, and the nearest beyond the edge", () => {
  const picture = paint(4, 4, (x, y) => 10 * x + 40 * y);
  assert.equal(sample(picture, 1.5, 2.25), 105);
  assert.equal(sample(picture, -300, 0), 0);
});

test("a disc and a leaning square are told apart, with their middles", () => {
  const turned = (x, y, by) => [x * Math.cos(by) + y * Math.sin(by), y * Math.cos(by) - x * Math.sin(by)];
  const picture = paint(120, 60, (x, y) => {
    const [a, b] = turned(x - 90.3, (y - 29.6) * 1.5, 0.4);
    return (x - 30) ** 2 + ((y - 30) * 1.4) ** 2 < 400 || Math.max(Math.abs(a), Math.abs(b)) < 17 ? 0 : 255;
  });
  const [disc, square] = findSpots(picture, (at) => picture.pixels[at] < 128, 20).sort((one, other) => one.x - other.x);
  assert.ok(disc.square < 0.05 && square.square > 0.38);
  assert.ok(Math.abs(disc.fill - 1) < 0.02 && Math.abs(square.fill - 0.955) < 0.02);
  assert.ok(Math.abs(disc.stretch - 1.4) < 0.03);
  assert.ok(Math.hypot(square.x - 90.3, square.y - 29.6) < 0.2);
  assert.ok(!disc.edge && !square.edge);
});
