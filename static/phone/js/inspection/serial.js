// Serials: which ways of writing mean one stove, and tags with a check character; on a tag it
// stands behind a point, records hold the serial as it was typed, without it. Twin of
// qcapp/inspection/serial.py; the rule is tests/vectors/serial/.
import { OUTER_SPACES } from "./number.js";

const SEPARATORS = /[-/_ \t\n\r\u00a0\u202f]+/;

/**
 * What two serials have in common when they mean one stove: b1 7, Bl-OO7 and B1-007 -> B1-7.
 * Case, characters that look alike (O 0, I l 1), blanks, other separators and leading zeros tell no
 * stoves apart. Between two digits a separator stays, as one hyphen: B1-007 is not B1007.
 * @param {string} serial
 */
export function serialKey(serial) {
  const alike = serial.toUpperCase().replace(/O/g, "0").replace(/[IL|]/g, "1");
  const groups = alike.replace(/[0-9]+/g, dropLeadingZeros).split(SEPARATORS);
  const key = groups.reduce((joined, group) =>
    /[0-9]$/.test(joined) && /^[0-9]/.test(group) ? `${joined}-${group}` : joined + group,
  );
  return key || serial;
}

/** @param {string} digits */
const dropLeadingZeros = (digits) => digits.replace(/^0+(?=.)/, "");

/**
 * 7 of B1-007 in a batch whose serials begin with B1-; null where it begins otherwise.
 * @param {string} serial
 * @param {string} prefix
 */
export function findSerialNumber(serial, prefix) {
  const key = serialKey(serial);
  const digits = key.match(/[0-9]{0,9}$/)?.[0] ?? "";
  // A prefix may end in a digit itself, so every cut is tried.
  const numbers = Array.from(digits, (_, at) => Number(digits.slice(at)));
  return numbers.find((number) => serialKey(buildSerial(prefix, number)) === key) ?? null;
}

/**
 * Why a serial is probably a slip: another prefix than the batch's, or a number beyond what was
 * planned; null when it is one of the batch.
 * @param {string} serial
 * @param {Pick<Batch, "serial_prefix" | "planned">} batch
 * @returns {"prefix" | "range" | null}
 */
export function doubtSerial(serial, { serial_prefix = "", planned }) {
  const number = findSerialNumber(serial, serial_prefix);
  // Without a prefix the yard has serials of its own, of any form.
  if (number === null) return serial_prefix ? "prefix" : null;
  return number >= 1 && number <= planned ? null : "range";
}

/**
 * B1- and 7 -> B1-007.
 * @param {string} prefix
 * @param {number} number
 */
export const buildSerial = (prefix, number) => prefix + String(number).padStart(3, "0");

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
 * Next free serial: prefix and the highest number so far plus one; what is beyond the planned
 * number was a slip or an addition, and leads nowhere.
 * @param {Pick<Batch, "serial_prefix" | "planned">} batch
 * @param {string[]} serials
 */
export function proposeSerial({ serial_prefix = "", planned }, serials) {
  const numbers = serials.map((serial) => findSerialNumber(serial, serial_prefix) ?? 0);
  const within = numbers.filter((number) => number <= planned);
  return buildSerial(serial_prefix, Math.max(0, ...within) + 1);
}
