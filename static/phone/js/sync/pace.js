// How much is sent at once, and how long the phone waits after a failure.

const MAX_BATCH = 100;
const QUICK_MS = 2000;
// Leaves room for definitions and the envelope in the server's 256 KiB.
const MAX_BATCH_BYTES = 196_608;
const BACK_OFF_MS = 2000;
const MAX_BACK_OFF_MS = 900_000;

/**
 * The first rows that fit in a request; one that is too large alone goes alone, to be named.
 * @template {{event: unknown}} T
 * @param {T[]} rows
 * @param {number} size
 * @param {number} [maxBytes]
 * @returns {T[]}
 */
export function fillBatch(rows, size, maxBytes = MAX_BATCH_BYTES) {
  const batch = [];
  let bytes = 0;
  for (const row of rows.slice(0, size)) {
    bytes += new TextEncoder().encode(JSON.stringify(row.event)).byteLength;
    if (batch.length > 0 && bytes > maxBytes) break;
    batch.push(row);
  }
  return batch;
}

/**
 * How many records to send next, after `sent` of them got this answer; `size` was asked for.
 * @param {number} size
 * @param {number} sent
 * @param {CallAnswer} answer
 */
export function nextSize(size, sent, { kind, ms = 0, timed_out }) {
  if (kind === "ok") return ms < QUICK_MS ? Math.min(MAX_BATCH, size * 2) : size;
  const isTooMuch = timed_out || kind === "too-large" || kind === "refused";
  return isTooMuch ? Math.max(1, Math.floor(sent / 2)) : size;
}

/**
 * Full jitter: anything up to 2 s, 4 s, 8 s ... 15 min, so that phones do not call in step.
 * @param {number} failures
 * @param {() => number} [random]
 */
export function backOffMs(failures, random = Math.random) {
  return random() * Math.min(MAX_BACK_OFF_MS, BACK_OFF_MS * 2 ** failures);
}
