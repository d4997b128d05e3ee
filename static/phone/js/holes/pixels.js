/** @type {SumOf} */
export const sumOf = (list, value) => list.reduce((sum, one, at) => sum + value(one, at), 0);

/** @type {Sample} */
export function sample({ pixels, width, height }, [x, y]) {
  const right = Math.min(Math.max(x, 0), width - 1.001);
  const down = Math.min(Math.max(y, 0), height - 1.001);
  /** @type {(at: number) => number} */
  const mix = (at) => pixels[at] + (right % 1) * (pixels[at + 1] - pixels[at]);
  const above = Math.floor(down) * width + Math.floor(right);
  return mix(above) + (down % 1) * (mix(above + width) - mix(above));
}

/** @type {Smooth} */
export function smooth({ pixels, width, height }, share) {
  const means = new Float32Array(pixels);
  for (const step of [1, -1, width, -width]) {
    for (let count = Math.abs(step); count < means.length; count += 1) {
      const at = step > 0 ? count : means.length - 1 - count;
      means[at] += share * (means[at - step] - means[at]);
    }
  }
  return { width, height, pixels: means };
}

/** @type {Close} */
export function close({ pixels, width }) {
  /** @type {Spread} */
  const spread = (line, step, pick) =>
    [1, 2, 4, 8, 16].reduce(
      (from, size) => from.map((value, at) => pick(value, from[at + size * step] ?? value)),
      line,
    );
  const brightest = spread(spread(pixels, 1, Math.max), width, Math.max);
  return spread(spread(brightest, -1, Math.min), -width, Math.min);
}

/** @type {FindSpots} */
export function findSpots({ pixels, width }, isWanted, least, most = Infinity) {
  const waiting = new Uint8Array(pixels.length).map((_, at) => Number(isWanted(at)));
  const spots = [];
  for (let start = 0; start < waiting.length; start += 1) {
    const members = waiting[start] ? [start] : [];
    waiting[start] = 0;
    for (const at of members) {
      for (const near of [at - width, at + width, at - 1, at + 1]) {
        if (waiting[near]) members.push(near);
        waiting[near] = 0;
      }
    }
    if (members.length >= least && members.length <= most) spots.push(describe(members, width));
  }
  return spots;
}

/** @type {DescribeSpot} */
function describe(members, width) {
  const area = members.length;
  const places = members.map((at) => [at % width, Math.floor(at / width)]);
  const middle = [0, 1].map((axis) => sumOf(places, (place) => place[axis]) / area);
  /** @type {(axis: number, other: number) => number} */
  const moment = (axis, other) =>
    sumOf(places, (place) => (place[axis] - middle[axis]) * (place[other] - middle[other])) / area;
  // A pixel is a square, not a point.
  const [xx, xy, yy] = [moment(0, 0) + 1 / 12, moment(0, 1), moment(1, 1) + 1 / 12];
  const square = xx * yy - xy * xy;
  const corners = places.map(([x, y]) => {
    const [right, down] = [x - middle[0], y - middle[1]];
    return (yy * right * right - 2 * xy * right * down + xx * down * down) / square;
  });
  return {
    ...{ area, middle, reach: Math.sqrt(xx + yy), fill: area / (4 * Math.PI * Math.sqrt(square)) },
    stretch: stretchOf(xx, xy, yy),
    corner: corners.reduce((one, other) => Math.max(one, other)),
    isCut: places.some(([x]) => x === 0 || x === width - 1),
  };
}

/** @type {StretchOf} */
export function stretchOf(xx, xy, yy) {
  const half = Math.hypot(xx - yy, 2 * xy) / (xx + yy);
  return Math.sqrt((1 + half) / (1 - half));
}

/** @type {Distance} */
export const distance = ([a, b], [c, d]) => Math.sqrt((a - c) ** 2 + (b - d) ** 2);

/** @type {LeastSquares} */
export function leastSquares(rows) {
  const table = rows[0].slice(1).map((_, at) =>
    rows[0].map((__, to) => sumOf(rows, (row) => row[at] * row[to])));
  table.forEach((pivot, at) => table.forEach((row, to) => {
    const times = row[at] / pivot[at];
    if (to !== at) table[to] = row.map((value, column) => value - times * pivot[column]);
  }));
  return table.map((row, at) => row[table.length] / row[at]);
}
