/** The plane: what is put in comes out again, and what is left over is the noise put in. */

import assert from "node:assert/strict";
import test from "node:test";

import { findCamera, fitPlane, listMarks, toPicture, toPlane } from "../../../static/phone/js/holes/frame.js";

const SIZE = { width: 1280, height: 960 };
const UNIT = Math.hypot(SIZE.width, SIZE.height) / 2;

/** A pinhole 380 mm off, leaning by 25 degrees, whose lens divides by 1 + radial r2. */
function see([x, y], radial) {
  const lean = (25 * Math.PI) / 180;
  const depth = 380 + y * Math.sin(lean);
  const [right, down] = [(1.2 * x) / depth, (1.2 * y * Math.cos(lean)) / depth];
  // Where r is that of the point seen: solved by repeating.
  let factor = 1;
  for (let round = 0; round < 60; round += 1) factor = 1 + radial * factor ** 2 * (right ** 2 + down ** 2);
  return [right * factor * UNIT + 639.5, down * factor * UNIT + 479.5];
}

test("places are found again through a leaning camera and a lens", () => {
  for (const radial of [-0.2, 0, 0.05]) {
    const marks = listMarks("a4");
    const plane = fitPlane(marks, marks.map((mark) => see(mark, radial)), SIZE);
    assert.ok(Math.abs(plane.terms[8] - radial) < 1e-6, `${plane.terms[8]} for ${radial}`);
    assert.ok(plane.residual < 1e-6);
    for (const place of [[0, 0], [80, -110], [-60, 20]]) {
      const point = see(place, radial);
      const [right, down] = toPicture(plane, place);
      assert.ok(Math.hypot(right - point[0], down - point[1]) < 1e-4);
      const [x, y] = toPlane(plane, point);
      assert.ok(Math.hypot(x - place[0], y - place[1]) < 1e-4);
    }
  }
});

test("what is left over is the spread of the marks", () => {
  let state = 7;
  const uniform = () => (state = (16807 * state) % 2147483647) / 2147483647;
  const noise = () => 0.3 * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
  const marks = listMarks("a4");
  let sum = 0;
  for (let run = 0; run < 300; run += 1) {
    // From straight above, 0.4 mm to a pixel.
    const seen = marks.map(([x, y]) => [x / 0.4 + 639.5 + noise(), y / 0.4 + 479.5 + noise()]);
    sum += fitPlane(marks, seen, SIZE).residual ** 2;
  }
  assert.ok(Math.abs(Math.sqrt(sum / 300) / (0.3 * 0.4) - 1) < 0.05);
});

test("a camera is as high above the sheet and as much tilted as it was", () => {
  // 400 mm above, a focal length of 1.2 half diagonals.
  const places = listMarks("a4");
  const unit = Math.hypot(SIZE.width, SIZE.height) / 2;
  const seen = places.map(([x, y]) => [639.5 + (1.2 * unit * x) / 400, 479.5 + (1.2 * unit * y) / 400]);
  const { tilt, distance } = findCamera(fitPlane(places, seen, SIZE));
  assert.ok(tilt < 0.01 && Math.abs(distance - 400) < 0.01);
  const leaning = (30 * Math.PI) / 180;
  const tilted = places.map(([x, y]) => {
    const depth = 400 + y * Math.sin(leaning);
    return [639.5 + (1.2 * unit * x) / depth, 479.5 + (1.2 * unit * y * Math.cos(leaning)) / depth];
  });
  const found = findCamera(fitPlane(places, tilted, SIZE));
  assert.ok(Math.abs(found.tilt - 30) < 0.1 && Math.abs(found.distance - 400 * Math.cos(leaning)) < 0.5);
});
