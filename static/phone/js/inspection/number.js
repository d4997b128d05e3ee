// What a typed text means as a number: one written grammar for all languages. The rule is
// tests/vectors/number/; the other reading of it is qcapp/inspection/number.py.

const CANONICAL = /^[0-9]{1,7}(?:\.[0-9]{1,4})?$/;

const MAX_WHOLE_DIGITS = 7;
const MAX_DECIMALS = 4;

// Listed by hand because trim() and Python's strip() remove different characters.
export const OUTER_SPACES = /^[ \t\n\r\u00a0\u202f]+|[ \t\n\r\u00a0\u202f]+$/g;

/**
 * Canonical text of a typed number ("12,50" -> "12.50"), or null when it is not one.
 * @param {unknown} text
 * @returns {string | null}
 */
export function parseNumber(text) {
  if (typeof text !== "string") return null;
  const canonical = text
    .replace(OUTER_SPACES, "")
    .replace(/[,\u066b]/g, ".")
    // Arabic-Indic and Persian digits: the last four bits of each are its value.
    .replace(/[\u0660-\u0669\u06f0-\u06f9]/g, (digit) => String(digit.charCodeAt(0) & 15));
  return CANONICAL.test(canonical) ? canonical : null;
}

/**
 * Whether what is typed so far may still become a number within the bounds, by more digits.
 * @param {string} text digits, with a decimal mark at most once
 * @param {{lower: number, upper: number}} bounds
 */
export function mayBecome(text, { lower, upper }) {
  const [whole, part] = text.replace(/[,\u066b]/, ".").split(".");
  if (!/^[0-9]+$/.test(whole)) return false;
  if (part !== undefined) {
    const from = Number(`${whole}.${part}`);
    const step = part.length < MAX_DECIMALS ? 10 ** -part.length : 0;
    return from <= upper && (from >= lower || from + step > lower);
  }
  for (let more = 0; whole.length + more <= MAX_WHOLE_DIGITS; more += 1) {
    const size = 10 ** more;
    if (Number(whole) * size <= upper && (Number(whole) + 1) * size > lower) return true;
  }
  return false;
}
