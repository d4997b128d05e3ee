/** Measures pictures for tests/holes: reads tasks as lines of JSON, answers a line to each.
 * A task names a file of grey pixels, its size and what is wanted of it.
 */

import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";

import { circleOf } from "../../../static/phone/js/holes/outline.js";
import { findHoles, measureGrate, measureWith, straighten, traceHole } from "../../../static/phone/js/holes/grate.js";
import { findFrame } from "../../../static/phone/js/holes/frame.js";
import { findSpots, meanOf } from "../../../static/phone/js/holes/pixels.js";
import { findCamera, fitHomography, fitPlane, project, toPicture, toPlane } from "../../../static/phone/js/holes/plane.js";

const SETUP = { ruler: 180, step: 0 };
const FOCAL = 1.2;

/** Millimetres to a pixel in the plane's middle. */
function grainOf(plane) {
  const [here, right, down] = [[0, 0], [1, 0], [0, 1]].map(([x, y]) => toPicture(plane, x, y));
  return 1 / Math.sqrt(Math.abs((right[0] - here[0]) * (down[1] - here[1]) - (right[1] - here[1]) * (down[0] - here[0])));
}

function measureBy(plane) {
  return measureWith(plane, grainOf(plane), findCamera(plane, FOCAL).distance, SETUP);
}

/** Discs in six rows of six: twelve of the outer ones are the marks, all are measured. */
function measureSheet(picture, { pitch, diameter }) {
  const smooth = meanOf(picture, 1);
  const around = meanOf(picture, 30);
  const discs = findSpots(picture, (at) => smooth[at] < 0.7 * around[at], 150)
    .filter((spot) => !spot.edge && Math.abs(spot.fill - 0.98) < 0.08 && spot.square < 0.15 && spot.stretch < 2.2);
  const outermost = (far) => discs.reduce((best, one) => (far(one) > far(best) ? one : best));
  const corners = [(one) => -one.x - one.y, (one) => one.x - one.y, (one) => one.x + one.y, (one) => one.y - one.x].map(outermost);
  const rough = fitHomography([[0, 0], [1, 0], [1, 1], [0, 1]], corners.map(({ x, y }) => [x / 1000, y / 1000]));
  const ring = [[0, 0], [2, 0], [3, 0], [5, 0], [5, 2], [5, 3], [5, 5], [3, 5], [2, 5], [0, 5], [0, 3], [0, 2]];
  const places = ring.map(([column, row]) => [(column - 2.5) * pitch, (row - 2.5) * pitch]);
  let seen = ring.map(([column, row]) => project(rough, column / 5, row / 5).map((one) => one * 1000));
  let plane = fitPlane(places, seen, picture);
  for (let round = 0; round < 3; round += 1) {
    const near = seen;
    seen = near.map(([x, y]) => {
      const [right, down] = toPlane(plane, x, y);
      const { x: column, y: row } = circleOf(traceHole(picture, plane, { x: right, y: down, radius: diameter / 2 }, 0.25));
      return toPicture(plane, column, row);
    });
    plane = fitPlane(places, seen, picture);
  }
  const measure = measureBy(plane);
  const holes = findHoles(straighten(picture, plane, 3.2 * pitch)).filter((one) => one.round);
  return {
    discs: holes.map((hole) => {
      const { x, y, radius } = circleOf(traceHole(picture, plane, hole, 0.25));
      const column = Math.round(x / pitch + 2.5);
      const row = Math.round(y / pitch + 2.5);
      const isMark = ring.some(([a, b]) => a === column && b === row);
      return { x, y, column, row, isMark, width: measure([[x - radius, y], [x + radius, y]]) };
    }),
    lengths: pairsOf(holes.map((hole) => circleOf(traceHole(picture, plane, hole, 0.25))), pitch).map(measure),
  };
}

function pairsOf(places, pitch) {
  return places.flatMap((one, at) => places.slice(0, at)
    .filter((other) => Math.hypot(one.x - other.x, one.y - other.y) < 1.2 * pitch)
    .map((other) => [[one.x, one.y], [other.x, other.y]]));
}

/** Lengths between corners of a chessboard, by a plane from twelve of the outer ones. */
function measureBoard(picture, { corners, marks, lengths }) {
  const plane = fitPlane(marks.map((one) => one.place), marks.map((one) => corners[one.row][one.column]), picture);
  const measure = measureBy(plane);
  return {
    lengths: lengths.map(([one, other]) => {
      const ends = [one, other].map(([row, column]) => toPlane(plane, ...corners[row][column]));
      const { value, uncertainty, parts } = measure(ends);
      return { value, uncertainty, parts };
    }),
  };
}

/** Bright coins on a dark ground, turned to dark ones on a bright ground; no plane, no size. */
function countCoins({ pixels, width, height }) {
  const side = Math.min(width, height);
  const turned = { pixels: pixels.map((value) => 255 - value), width, height };
  return { spots: findHoles(turned, side).filter((one) => one.round).length };
}

/** The printed frame alone. */
function findMarks(picture) {
  const found = findFrame(picture);
  return { ...found, residual: found.plane?.residual };
}

/** Milliseconds of processor time: what else runs on the machine does not count. */
function cpuSince(began) {
  const { user, system } = process.cpuUsage(began);
  return (user + system) / 1000;
}

const WANTED = {
  frame: findMarks,
  grate: (picture, task) => measureGrate(picture, { ...SETUP, ...task.setup }),
  sheet: measureSheet,
  board: measureBoard,
  coins: countCoins,
};

for await (const line of createInterface({ input: process.stdin })) {
  const task = JSON.parse(line);
  const picture = { pixels: new Uint8Array(readFileSync(task.file)), width: task.width, height: task.height };
  const began = process.cpuUsage();
  const found = WANTED[task.wanted](picture, task);
  process.stdout.write(`${JSON.stringify({ ...found, took: cpuSince(began), memory: process.memoryUsage().rss })}\n`);
}
