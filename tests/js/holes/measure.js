/** Measures pictures for tests/holes: reads tasks as lines of JSON, answers a line to each.
 * A task names a file of grey pixels, its size and what is wanted of it.
 */

import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";

import {
  findCamera,
  findFrame,
  fitHomography,
  fitPlane,
  project,
  straighten,
  toPicture,
  toPlane,
} from "../../../static/phone/js/holes/frame.js";
import {
  findHoles,
  measureGrate,
  measureWith,
  traceHole,
} from "../../../static/phone/js/holes/grate.js";
import { findSpots, smooth } from "../../../static/phone/js/holes/pixels.js";

const SETUP = { ruler: 180, step: 0 };
const SMOOTH = 0.3;
const AROUND = 0.95;
// A worn coin is nearer to its ground than a hole to its face.
const COIN_LEVELS = [0.74, 0.62, 0.5];

/** What the module finds in its frame, from marks that are known here. */
function viewOf(smoothed, places, seen) {
  const plane = fitPlane(places, seen, smoothed);
  const camera = findCamera(plane);
  // The smoothing alone makes an edge as soft as this.
  return { picture: smoothed, plane, ...camera, blur: 1.1 * camera.grain };
}

/** The discs that are marks, by column and row, along the edge of the sheet. */
const RING = [
  ...[[0, 0], [2, 0], [3, 0], [5, 0]],
  ...[[5, 2], [5, 3], [5, 5]],
  ...[[3, 5], [2, 5], [0, 5]],
  ...[[0, 3], [0, 2]],
];
const dividedBy = (scale) => (point) => point.map((one) => one / scale);

/** The middles of the discs nearest to the four corners, in the order of a ring. */
function findCorners(discs) {
  const outermost = (far) =>
    discs
      .map((one) => one.middle)
      .reduce((best, one) => (far(...one) > far(...best) ? one : best));
  const ways = [(x, y) => -x - y, (x, y) => x - y, (x, y) => x + y, (x, y) => y - x];
  return ways.map(outermost);
}

/** Discs in six rows of six: twelve of the outer ones are the marks, all are measured. */
function measureSheet(picture, { pitch, diameter }) {
  const smoothed = smooth(picture, SMOOTH);
  const around = smooth(picture, AROUND).pixels;
  const discs = findSpots(smoothed, (at) => smoothed.pixels[at] < 0.7 * around[at], 150)
    .filter((spot) => !spot.isCut && spot.fill > 0.95 && spot.corner < 5 && spot.stretch < 2.2);
  // Of a size that the equations bear.
  const corners = findCorners(discs).map(dividedBy(1000));
  const rough = fitHomography([[0, 0], [1, 0], [1, 1], [0, 1]], corners);
  const places = RING.map((place) => place.map((one) => (one - 2.5) * pitch));
  let seen = RING.map(dividedBy(5))
    .map((place) => project(rough, place).map((one) => one * 1000));
  let view = viewOf(smoothed, places, seen);
  for (let round = 0; round < 3; round += 1) {
    seen = seen.map((point) => {
      const disc = { middle: toPlane(view.plane, point), radius: diameter / 2 };
      return toPicture(view.plane, traceHole(view, disc).middle);
    });
    view = viewOf(smoothed, places, seen);
  }
  const measure = measureWith(view, SETUP);
  const holes = findHoles(straighten(smoothed, view.plane)).filter((one) => one.isRound);
  const traced = dropTwins(holes).map((hole) => traceHole(view, hole));
  return {
    discs: traced.map(({ middle: [x, y], radius }) => {
      const column = Math.round(x / pitch + 2.5);
      const row = Math.round(y / pitch + 2.5);
      const isMark = RING.some(([a, b]) => a === column && b === row);
      return { x, y, column, row, isMark, width: measure([[x - radius, y], [x + radius, y]]) };
    }),
    lengths: pairsOf(traced.map((one) => one.middle), pitch).map(measure),
  };
}

/** One spot for each disc: each level of darkness gives its own. */
function dropTwins(spots) {
  return spots.filter((one, at) => !spots.slice(0, at).some((other) =>
    Math.hypot(one.middle[0] - other.middle[0], one.middle[1] - other.middle[1]) < other.radius));
}

function pairsOf(places, pitch) {
  return places.flatMap((one, at) => places.slice(0, at)
    .filter((other) => Math.hypot(one[0] - other[0], one[1] - other[1]) < 1.2 * pitch)
    .map((other) => [one, other]));
}

/** Lengths between corners of a chessboard, by a plane from twelve of the outer ones. */
function measureBoard(picture, { corners, marks, lengths }) {
  const seen = marks.map((one) => corners[one.row][one.column]);
  const view = viewOf(picture, marks.map((one) => one.place), seen);
  const measure = measureWith(view, SETUP);
  return {
    lengths: lengths.map((ends) => {
      const places = ends.map(([row, column]) => toPlane(view.plane, corners[row][column]));
      const { value, uncertainty, parts } = measure(places);
      return { value, uncertainty, parts };
    }),
  };
}

/** Bright coins on a dark ground, turned to dark ones on a bright ground; no plane, no size. */
function countCoins({ pixels, width, height }) {
  const turned = smooth({ pixels: pixels.map((value) => 255 - value), width, height }, SMOOTH);
  return { spots: dropTwins(findHoles(turned, COIN_LEVELS).filter((one) => one.isRound)).length };
}

/** The printed frame alone. */
function findMarks(picture) {
  const { plane, places, grain } = findFrame(smooth(picture, SMOOTH));
  return { marks: places?.length, residual: plane?.residual, grain };
}

/** Milliseconds of processor time: what else runs on the machine does not count. */
function cpuOf(work) {
  const began = process.cpuUsage();
  const found = work();
  const { user, system } = process.cpuUsage(began);
  return { found, ms: (user + system) / 1000 };
}

const PLAIN = new Uint8Array(960 * 720);
const SUMS = new Float32Array(PLAIN.length);

/** Plain arithmetic over a photo of 960 by 720: each pixel with its eight neighbours. What a picture
 * takes is told in passes of it, as this machine runs them at the moment.
 */
function passOnce() {
  for (let at = 961; at < PLAIN.length - 961; at += 1) {
    let sum = 0;
    for (let row = -960; row <= 960; row += 960) {
      sum += PLAIN[at + row - 1] + PLAIN[at + row] + PLAIN[at + row + 1];
    }
    SUMS[at] = sum;
  }
}

/** The middle of five. */
function timePass() {
  const times = Array.from({ length: 5 }, () => cpuOf(passOnce).ms);
  return times.sort((a, b) => a - b)[2];
}

// Compiled before it is timed.
for (let round = 0; round < 20; round += 1) passOnce();

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
  const pass = timePass();
  const { found, ms } = cpuOf(() => WANTED[task.wanted](picture, task));
  const spent = { passes: ms / pass, memory: process.memoryUsage().rss };
  process.stdout.write(`${JSON.stringify({ ...found, ...spent })}\n`);
}
