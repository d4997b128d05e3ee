/**
 * What a typed text means as a number: one written grammar for both languages.
 * Twin of qcapp/inspection/number.py; the rule that both follow is tests/vectors/number/.
 */

// Listed by hand because trim() and Python's strip() remove different characters.
const OUTER_SPACES = /^[ \t\n\r\u00a0\u202f]+|[ \t\n\r\u00a0\u202f]+$/g;
const CANONICAL = /^[0-9]{1,7}(?:\.[0-9]{1,4})?$/;

const ARABIC_INDIC_ZERO = 0x0660;
const PERSIAN_ZERO = 0x06f0;

function toAscii(character) {
  if (character === "," || character === "\u066b") return ".";
  const code = character.charCodeAt(0);
  const zero = code >= PERSIAN_ZERO ? PERSIAN_ZERO : ARABIC_INDIC_ZERO;
  return String(code - zero);
}

/** Canonical text of a typed number ("12,50" -> "12.50"), or null when it is not one. */
export function parseNumber(text) {
  if (typeof text !== "string") return null;
  const canonical = text
    .replace(OUTER_SPACES, "")
    .replace(/[,\u066b\u0660-\u0669\u06f0-\u06f9]/g, toAscii);
  return CANONICAL.test(canonical) ? canonical : null;
}

/** The nearest binary double of a canonical text; both languages round to the same one. */
export function numberValue(canonical) {
  return Number(canonical);
}
