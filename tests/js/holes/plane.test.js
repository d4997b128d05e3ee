/** The plane: what is put in comes out again, and the stated spread is the one that noise makes. */

import assert from "node:assert/strict";
import test from "node:test";

import { listMarks } from "../../../static/phone/js/holes/frame.js";
import { findCamera, fitPlane, project, toPicture, toPlane, uncertaintyOfLength } from "../../../static/phone/js/holes/plane.js";

const SIZE = { width: 1280, height: 960 };
const TERMS = [0.62, 0.05, 0.02, -0.03, 0.7, -0.01, 0.08, -0.06];

function see(radial, noise = () => 0) {
  const unit = Math.hypot(SIZE.width, SIZE.height) / 2;
  const places = listMarks("a4");
  const span = Math.max(...places.map((place) => Math.hypot(...place)));
  const seen = places.map(([x, y]) => {
    const [right, down] = project([...TERMS, radial], x / span, y / span);
    return [right * unit + 639.5 + noise(), down * unit + 479.5 + noise()];
  });
  return { places, seen };
}

test("terms of a lens and a plane are found again", () => {
  for (const radial of [-0.2, 0, 0.05]) {
    const { places, seen } = see(radial);
    const plane = fitPlane(places, seen, SIZE);
    [...TERMS, radial].forEach((term, at) => assert.ok(Math.abs(plane.terms[at] - term) < 1e-6));
    for (const [x, y] of [[0, 0], [80, -110], [-60, 20]]) {
      const [back, down] = toPlane(plane, ...toPicture(plane, x, y));
      assert.ok(Math.hypot(back - x, down - y) < 1e-6);
    }
  }
});

test("uncertainty of a length is its spread over noisy marks", () => {
  let state = 7;
  const uniform = () => (state = (16807 * state) % 2147483647) / 2147483647;
  const noise = () => 0.3 * Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
  const ends = [[-40, 10], [35, 30]];
  const exact = fitPlane(...Object.values(see(-0.1)), SIZE);
  const points = ends.map(([x, y]) => toPicture(exact, x, y));
  const [lengths, stated] = [[], []];
  for (let run = 0; run < 300; run += 1) {
    const plane = fitPlane(...Object.values(see(-0.1, noise)), SIZE);
    const [one, other] = points.map(([x, y]) => toPlane(plane, x, y));
    lengths.push(Math.hypot(one[0] - other[0], one[1] - other[1]));
    stated.push(uncertaintyOfLength(plane, one, other));
  }
  const mean = lengths.reduce((sum, one) => sum + one) / lengths.length;
  const spread = Math.sqrt(lengths.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (lengths.length - 1));
  const said = stated.reduce((sum, one) => sum + one) / stated.length;
  assert.ok(Math.abs(said / spread - 1) < 0.15, `${said} for ${spread}`);
});

test("a camera is as high above the sheet and as much tilted as it was", () => {
  // 400 mm above, a focal length of 1.2 half diagonals.
  const places = listMarks("a4");
  const unit = Math.hypot(SIZE.width, SIZE.height) / 2;
  const seen = places.map(([x, y]) => [639.5 + (1.2 * unit * x) / 400, 479.5 + (1.2 * unit * y) / 400]);
  const { tilt, distance } = findCamera(fitPlane(places, seen, SIZE), 1.2);
  assert.ok(tilt < 0.01 && Math.abs(distance - 400) < 0.01);
  const leaning = (30 * Math.PI) / 180;
  const tilted = places.map(([x, y]) => {
    const depth = 400 + y * Math.sin(leaning);
    return [639.5 + (1.2 * unit * x) / depth, 479.5 + (1.2 * unit * y * Math.cos(leaning)) / depth];
  });
  const found = findCamera(fitPlane(places, tilted, SIZE), 1.2);
  assert.ok(Math.abs(found.tilt - 30) < 0.01 && Math.abs(found.distance - 400 * Math.cos(leaning)) < 0.1);
});
