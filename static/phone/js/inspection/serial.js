// Codes and serials with a check character; on a tag it stands behind a point, records hold the
// serial plain. Twin of qcapp/inspection/serial.py; the rule is tests/vectors/serial/.
import { OUTER_SPACES } from "./number.js";

/**
 * ISO/IEC 7064 MOD 37,36 over 0-9 A-Z: whether the last character fits the others. Twin of
 * qcapp/inspection/check_character.py.
 * @param {string} code
 */
export function hasCheckCharacter(code) {
  if (!/^[0-9A-Z]{2,}$/i.test(code)) return false;
  let carry = 36;
  for (const character of code.slice(0, -1))
    carry = (((carry + parseInt(character, 36)) % 36 || 36) * 2) % 37;
  return (carry + parseInt(code.slice(-1), 36)) % 36 === 1;
}

/**
 * The plain serial that a typed text means, or null: in a batch with checked serials its check
 * character must fit, in any case of letters.
 * @param {string} typed
 * @param {Pick<Batch, "serial_prefix" | "attributes">} batch
 */
export function readSerial(typed, { serial_prefix = "", attributes }) {
  const text = typed.replace(OUTER_SPACES, "");
  if (!/^(?:[^\p{C}\p{Z}]| ){1,40}$/u.test(text)) return null;
  if (attributes.checked_serials !== true) return text;
  const [, serial, check] = text.match(/^(.*[^ ]) *\. *(.)$/) ?? [null, "", ""];
  const plain = serial_prefix + serial.slice(serial_prefix.length);
  const fits =
    plain.toUpperCase() === serial.toUpperCase() &&
    hasCheckCharacter(plain.replace(/[-/_ ]/g, "") + check);
  return fits ? plain : null;
}

/**
 * Next free serial: prefix and the highest number so far plus one, at least three digits.
 * @param {string} prefix
 * @param {string[]} stoves
 */
export function proposeSerial(prefix, stoves) {
  const numbers = stoves
    .filter((stove) => stove.startsWith(prefix))
    .map((stove) => stove.slice(prefix.length))
    .filter((rest) => /^[0-9]{1,9}$/.test(rest))
    .map(Number);
  return prefix + String(Math.max(0, ...numbers) + 1).padStart(3, "0");
}
