/**
 * Grey pictures: means, closing, dark spots with their moments. Pure functions of pixels.
 *
 * A picture is {pixels, width, height}, row by row, one number of 0 (black) to 255 a pixel.
 * Closing: Serra, Image Analysis and Mathematical Morphology (1982); running extremes in three
 * comparisons a pixel: van Herk, Pattern Recognition Letters 13 (1992).
 */

/** @typedef {{pixels: Uint8Array, width: number, height: number}} Picture */
/**
 * A dark spot: area in pixels, its centre, its covariance, and how square it is (0 disc, 0.43).
 * @typedef {{area: number, x: number, y: number, xx: number, xy: number, yy: number,
 *   fill: number, stretch: number, square: number, edge: boolean}} Spot
 */

/** Grey of RGBA pixels, weighted as in ITU-R BT.601.
 * @param {Uint8ClampedArray} rgba @param {number} width @param {number} height
 * @returns {Picture} */
export function greyOf(rgba, width, height) {
  const pixels = new Uint8Array(width * height);
  for (let at = 0, from = 0; at < pixels.length; at += 1, from += 4) {
    pixels[at] = (77 * rgba[from] + 150 * rgba[from + 1] + 29 * rgba[from + 2]) >> 8;
  }
  return { pixels, width, height };
}

/** Brightness between four pixels; the nearest ones beyond the picture's edge.
 * @param {Picture} picture @param {number} x @param {number} y */
export function sample({ pixels, width, height }, x, y) {
  const left = Math.min(Math.max(x, 0), width - 1.001);
  const top = Math.min(Math.max(y, 0), height - 1.001);
  const column = Math.floor(left);
  const row = Math.floor(top);
  const right = left - column;
  const at = row * width + column;
  const above = pixels[at] + right * (pixels[at + 1] - pixels[at]);
  const below = pixels[at + width] + right * (pixels[at + width + 1] - pixels[at + width]);
  return above + (top - row) * (below - above);
}

/** Mean of the square of 2 reach + 1 pixels round each pixel, cut at the picture's edge.
 * @param {Picture} picture @param {number} reach @returns {Picture} */
export function meanOf({ pixels, width, height }, reach) {
  const wide = width + 1;
  const sums = new Uint32Array(wide * (height + 1));
  for (let y = 0; y < height; y += 1) {
    for (let x = 0, row = 0; x < width; x += 1) {
      row += pixels[y * width + x];
      sums[(y + 1) * wide + x + 1] = sums[y * wide + x + 1] + row;
    }
  }
  const means = new Uint8Array(pixels.length);
  for (let y = 0; y < height; y += 1) {
    const top = Math.max(0, y - reach);
    const bottom = Math.min(height, y + reach + 1);
    for (let x = 0; x < width; x += 1) {
      const left = Math.max(0, x - reach);
      const right = Math.min(width, x + reach + 1);
      const sum = sums[bottom * wide + right] - sums[top * wide + right];
      const rest = sums[bottom * wide + left] - sums[top * wide + left];
      means[y * width + x] = (sum - rest) / ((bottom - top) * (right - left)) + 0.5;
    }
  }
  return { pixels: means, width, height };
}

/** The brightest of 2 reach + 1 pixels along one line, in place.
 * @param {Uint8Array} pixels @param {number} from @param {number} step @param {number} count
 * @param {number} reach @param {Uint8Array} before @param {Uint8Array} after */
function widenLine(pixels, from, step, count, reach, before, after) {
  const block = 2 * reach + 1;
  for (let at = 0; at < count; at += 1) {
    const value = pixels[from + at * step];
    before[at] = at % block ? Math.max(before[at - 1], value) : value;
  }
  for (let at = count - 1; at >= 0; at -= 1) {
    const value = pixels[from + at * step];
    const last = at === count - 1 || at % block === block - 1;
    after[at] = last ? value : Math.max(after[at + 1], value);
  }
  for (let at = 0; at < count; at += 1) {
    const upTo = before[Math.min(at + reach, count - 1)];
    pixels[from + at * step] = Math.max(upTo, after[Math.max(at - reach, 0)]);
  }
}

/** @param {Picture} picture @param {number} reach */
function widen({ pixels, width, height }, reach) {
  const before = new Uint8Array(Math.max(width, height));
  const after = new Uint8Array(before.length);
  for (let y = 0; y < height; y += 1) {
    widenLine(pixels, y * width, 1, width, reach, before, after);
  }
  for (let x = 0; x < width; x += 1) widenLine(pixels, x, width, height, reach, before, after);
}

/** The picture with everything dark filled up that a square of 2 reach + 1 pixels does not fit in.
 * @param {Picture} picture @param {number} reach @returns {Picture} */
export function close(picture, reach) {
  const filled = { ...picture, pixels: picture.pixels.slice() };
  const invert = () => filled.pixels.forEach((value, at) => (filled.pixels[at] = 255 - value));
  widen(filled, reach);
  invert();
  widen(filled, reach);
  invert();
  return filled;
}

/** Connected pixels for which dark holds, of at least `least` pixels.
 * @param {Picture} picture @param {(at: number) => boolean} isDark @param {number} least
 * @returns {Spot[]} */
export function findSpots({ width, height }, isDark, least) {
  const waiting = new Uint8Array(width * height);
  for (let at = 0; at < waiting.length; at += 1) waiting[at] = isDark(at) ? 1 : 0;
  const members = new Int32Array(width * height);
  const spots = [];
  for (let start = 0; start < waiting.length; start += 1) {
    if (!waiting[start]) continue;
    const count = flood(waiting, members, start, width);
    if (count >= least) spots.push(describe(members.subarray(0, count), width, height));
  }
  return spots;
}

/** @param {Uint8Array} waiting @param {Int32Array} members @param {number} start
 * @param {number} width */
function flood(waiting, members, start, width) {
  let count = 1;
  members[0] = start;
  waiting[start] = 0;
  for (let next = 0; next < count; next += 1) {
    const at = members[next];
    const column = at % width;
    for (const near of [at - width, at + width, column ? at - 1 : -1, (at + 1) % width ? at + 1 : -1]) {
      if (waiting[near]) {
        waiting[near] = 0;
        members[count++] = near;
      }
    }
  }
  return count;
}

/** @param {Int32Array} members @param {number} width @param {number} height @returns {Spot} */
function describe(members, width, height) {
  const area = members.length;
  let [x, y, xx, xy, yy, edge] = [0, 0, 1 / 12, 0, 1 / 12, false];
  for (const at of members) {
    x += (at % width) / area;
    y += Math.floor(at / width) / area;
  }
  for (const at of members) {
    const [right, down] = [(at % width) - x, Math.floor(at / width) - y];
    xx += (right * right) / area;
    xy += (right * down) / area;
    yy += (down * down) / area;
    edge ||= !(at % width) || (at + 1) % width === 0 || at < width || at >= (height - 1) * width;
  }
  const root = Math.sqrt(Math.max(xx * yy - xy * xy, 1e-9));
  const half = Math.hypot(xx - yy, 2 * xy) / 2;
  const stretch = Math.sqrt(((xx + yy) / 2 + half) / Math.max((xx + yy) / 2 - half, 1e-9));
  const shape = { x, y, xx, xy, yy };
  return { area, ...shape, fill: area / (4 * Math.PI * root), stretch, square: squareness(members, width, shape), edge };
}

/** Fourth angular moment once the spot is made round (its covariance the unit matrix): 0 for any
 * ellipse, 2.4 / 5.6 for any parallelogram.
 * @param {Int32Array} members @param {number} width
 * @param {{x: number, y: number, xx: number, xy: number, yy: number}} shape */
function squareness(members, width, { x, y, xx, xy, yy }) {
  const scale = Math.sqrt(xx);
  const rest = Math.sqrt(Math.max(yy - (xy * xy) / xx, 1e-9));
  let [real, imaginary, all] = [0, 0, 0];
  for (const at of members) {
    const right = ((at % width) - x) / scale;
    const down = (Math.floor(at / width) - y - (xy / xx) * ((at % width) - x)) / rest;
    const [first, second] = [right * right - down * down, 2 * right * down];
    real += first * first - second * second;
    imaginary += 2 * first * second;
    all += (right * right + down * down) ** 2;
  }
  return Math.hypot(real, imaginary) / all;
}
