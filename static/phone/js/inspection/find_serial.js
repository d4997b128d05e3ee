// Which known stoves a typed or scanned serial may mean; pure.
import { splitKey } from "./event.js";
import { doubtSerial, findSerialNumber, readSerial, serialKey } from "./serial.js";

const MAX_FOUND = 12;

/**
 * How well a stove fits: 0 it is this serial, 1 it has this number, 2 what was typed is part of it;
 * null when it does not.
 * @param {string} typed
 * @param {string} key of the stove
 * @param {Batch} batch
 */
function fitOf(typed, key, batch) {
  const stove = splitKey(key).stove;
  const own = serialKey(stove);
  const plain = typed.trim();
  const read = readSerial(plain, batch);
  const wanted = serialKey(read ?? plain);
  if (wanted === own) return 0;
  const isNumber = /^[0-9]+$/.test(plain);
  if (isNumber && findSerialNumber(stove, batch.serial_prefix ?? "") === Number(plain)) return 1;
  return own.includes(wanted) ? 2 : null;
}

/**
 * The best fitting ones; of a serial that is written out, all its stages and nothing else.
 * @param {string} typed
 * @param {KnownStove[]} known
 */
export function findStoves(typed, known) {
  if (!typed.trim()) return [];
  const found = known.flatMap((stove) => {
    const fit = fitOf(typed, stove.key, stove.batch);
    return fit === null ? [] : { ...stove, fit };
  });
  const best = Math.min(...found.map(({ fit }) => fit));
  return found
    .filter(({ fit }) => best > 0 || fit === 0)
    .sort((a, b) => a.fit - b.fit)
    .slice(0, MAX_FOUND);
}

/**
 * Open batches that a serial nobody has seen is of: it may be inspected there.
 * @param {string} typed
 * @param {Batch[]} batches
 */
export function batchesOf(typed, batches) {
  return batches.flatMap((batch) => {
    const stove = readSerial(typed, batch);
    return stove && batch.serial_prefix && !doubtSerial(stove, batch) ? { batch, stove } : [];
  });
}
