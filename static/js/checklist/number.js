/**
 * What a typed text means as a number, one written grammar for both languages, and what a
 * calculated check makes of such numbers. Twin of qcapp/inspection/number.py and of evaluate() in
 * qcapp/checklist/expression.py; the rule of the texts is tests/vectors/number/.
 */

// Listed by hand because trim() and Python's strip() remove different characters.
const OUTER_SPACES = /^[ \t\n\r\u00a0\u202f]+|[ \t\n\r\u00a0\u202f]+$/g;
const CANONICAL = /^[0-9]{1,7}(?:\.[0-9]{1,4})?$/;

const OPERATIONS = {
  "+": (a, b) => a + b,
  "-": (a, b) => a - b,
  "*": (a, b) => a * b,
  "/": (a, b) => a / b,
  neg: (a) => -a,
  sqrt: Math.sqrt,
  abs: Math.abs,
  min: Math.min,
  max: Math.max,
};

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

/**
 * The tree's value for {check id: value}; null where an input is missing, and where there is no
 * finite answer (division by zero, root of a negative number, overflow). Worked out in binary64, in
 * the order of the tree, so both sides get equal bits.
 */
export function evaluate(tree, values) {
  if (typeof tree === "number") return tree;
  const [head, ...rest] = tree;
  if (head === "input") return Object.hasOwn(values, rest[0]) ? values[rest[0]] : null;
  const parts = rest.map((part) => evaluate(part, values));
  if (parts.includes(null)) return null;
  const result = OPERATIONS[head](...parts);
  return Number.isFinite(result) ? result : null;
}
