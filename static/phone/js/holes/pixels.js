/**
 * Grey pictures: rows of numbers from 0 (black) to 255. Types: static/types.d.ts.
 * Closing: Serra, Image Analysis and Mathematical Morphology (1982).
 */

/** Brightness between four pixels. @type {Sample} */
export function sample({ pixels, width, height }, x, y) {
  const column = Math.min(Math.max(Math.floor(x), 0), width - 2);
  const row = Math.min(Math.max(Math.floor(y), 0), height - 2);
  const at = row * width + column;
  const above = pixels[at] + (x - column) * (pixels[at + 1] - pixels[at]);
  const below = pixels[at + width] + (x - column) * (pixels[at + width + 1] - pixels[at + width]);
  return Math.min(Math.max(above + (y - row) * (below - above), 0), 255);
}

/** Mean of the square round each pixel, cut at the picture's edge. @type {Filter} */
export function meanOf({ pixels, width, height }, reach) {
  const wide = width + 1;
  const sums = new Uint32Array(wide * (height + 1));
  for (let y = 0; y < height; y += 1) {
    for (let x = 0, row = 0; x < width; x += 1) {
      row += pixels[y * width + x];
      sums[(y + 1) * wide + x + 1] = sums[y * wide + x + 1] + row;
    }
  }
  return pixels.map((_, at) => {
    const x = at % width;
    const y = (at - x) / width;
    const left = Math.max(0, x - reach);
    const right = Math.min(width, x + reach + 1);
    const top = Math.max(0, y - reach) * wide;
    const bottom = Math.min(height, y + reach + 1) * wide;
    const sum = sums[bottom + right] - sums[top + right] - sums[bottom + left] + sums[top + left];
    return (sum * wide) / ((bottom - top) * (right - left)) + 0.5;
  });
}

/** The picture with everything dark filled up that a square of so many pixels does not fit in.
 * @type {Filter} */
export function close({ pixels, width, height }, side) {
  // Brightest of what follows, then darkest of what went before; each round doubles the reach.
  /** @type {Spread} */
  const spread = (line, step, count, way, pick) => {
    for (let size = 1, more = 1; size < side; size += more) {
      more = Math.min(size, side - size);
      const from = line;
      line = from.map((value, at) => {
        const place = (Math.floor(at / step) % count) + way * more;
        return place < 0 || place >= count ? value : pick(value, from[at + way * more * step]);
      });
    }
    return line;
  };
  const brightest = spread(spread(pixels, 1, width, 1, Math.max), width, height, 1, Math.max);
  return spread(spread(brightest, 1, width, -1, Math.min), width, height, -1, Math.min);
}

/** Connected pixels for which isDark holds, of at least `least` pixels. @type {FindSpots} */
export function findSpots({ pixels, width, height }, isDark, least) {
  const waiting = pixels.map((_, at) => Number(isDark(at)));
  const spots = [];
  for (let start = 0; start < waiting.length; start += 1) {
    if (!waiting[start]) continue;
    const members = [start];
    waiting[start] = 0;
    for (const at of members) {
      for (const near of [at - width, at + width, at - 1, at + 1]) {
        if (waiting[near]) {
          waiting[near] = 0;
          members.push(near);
        }
      }
    }
    if (members.length >= least) spots.push(describe(members, width, height));
  }
  return spots;
}

/** @type {(members: number[], width: number, height: number) => Spot} */
function describe(members, width, height) {
  const area = members.length;
  const places = members.map((at) => [at % width, Math.floor(at / width)]);
  /** @type {(value: (right: number, down: number) => number) => number} */
  const mean = (value) => places.reduce((sum, [right, down]) => sum + value(right, down), 0) / area;
  const x = mean((right) => right);
  const y = mean((_, down) => down);
  const xx = mean((right) => (right - x) ** 2) + 1 / 12;
  const xy = mean((right, down) => (right - x) * (down - y));
  const yy = mean((_, down) => (down - y) ** 2) + 1 / 12;
  const root = Math.sqrt(Math.max(xx * yy - xy * xy, 1e-9));
  const half = Math.min(Math.hypot(xx - yy, 2 * xy) / (xx + yy), 0.999);
  // The angle times four, after the spot is made round: 0 for an ellipse, 0.43 for a parallelogram.
  let [real, imaginary, all] = [0, 0, 0];
  for (const [right, down] of places) {
    const a = (right - x) / Math.sqrt(xx);
    const b = ((down - y - (xy / xx) * (right - x)) * Math.sqrt(xx)) / root;
    real += (a * a - b * b) ** 2 - 4 * a * a * b * b;
    imaginary += 4 * a * b * (a * a - b * b);
    all += (a * a + b * b) ** 2;
  }
  return {
    ...{ area, x, y, reach: Math.sqrt(xx + yy), fill: area / (4 * Math.PI * root) },
    stretch: Math.sqrt((1 + half) / (1 - half)),
    square: Math.hypot(real, imaginary) / all,
    edge: places.some(([right, down]) => !(right % (width - 1)) || !(down % (height - 1))),
  };
}
