/**
 * How sure a length of one picture is: JCGM 100:2008, 4.3.7 (limits known alone), 5.1.2 (root of
 * the sum of squares) and 6.2.1 (expanded, k = 2).
 */

import { toPicture, uncertaintyOfLength } from "./plane.js";
import { RULER_LENGTH } from "./frame.js";

/** @typedef {import("./plane.js").Point} Point */

const COVERAGE = 2;
// An edge is found to this many pixels (standard uncertainty): light spreads over it, and the step
// is rounded. From discs of known size in photographs (tests/holes).
const EDGE = 0.2;
// What the marks leave over is no chance: a sheet bends and a lens differs from its one term
// slowly, so that the difference of two points grows with their distance. From photographs of
// chessboards (tests/holes): the variance at a distance of the frame's reach, in residuals squared.
const MISFIT = 3;
// Limits of what is typed in and laid by hand, mm.
const RULER_READ_TO = 0.5;
const STEP_READ_TO = 1;
// What is not known of a phone's focal length.
const FOCAL_SPREAD = 0.12;

/** A function that gives a length between two places of the plane, corrected for the ruler's scale
 * and the height of the face, with its standard uncertainties and the expanded one; all mm.
 * @param {import("./plane.js").Plane} plane @param {{distance: number}} camera
 * @param {number} grain mm to a pixel @param {{ruler: number, step: number}} setup */
export function describeSureness(plane, { distance }, grain, { ruler, step }) {
  const scale = (ruler / RULER_LENGTH) * (1 - step / distance);
  return (/** @type {Point} */ from, /** @type {Point} */ to) => {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const known = uncertaintyOfLength(plane, toPicture(plane, from), toPicture(plane, to));
    const parts = {
      plane: Math.hypot(known, plane.residual * grain * Math.sqrt((MISFIT * length) / plane.span)),
      edge: Math.SQRT2 * EDGE * grain,
      height: (length * Math.hypot(STEP_READ_TO / Math.sqrt(3), step * FOCAL_SPREAD)) / distance,
      print: (length * RULER_READ_TO) / Math.sqrt(3) / ruler,
    };
    return { value: length * scale, uncertainty: COVERAGE * Math.hypot(...Object.values(parts)), parts };
  };
}
