// The value of a calculated check; twin of evaluate() in qcapp/checklist/expression.py.

/** @type {Record<string, (...values: number[]) => number>} */
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

/**
 * The tree's value for {check id: value}; null where an input is missing, and where there is no
 * finite answer (division by zero, root of a negative number, overflow). Worked out in binary64,
 * in the order of the tree, so both sides get equal bits.
 * @param {Expression} tree
 * @param {Record<string, number | null>} values
 * @returns {number | null}
 */
export function evaluate(tree, values) {
  if (typeof tree === "number") return tree;
  const [head, ...rest] = tree;
  if (head === "input") return Object.hasOwn(values, rest[0]) ? values[rest[0]] : null;
  const parts = rest.map((part) => evaluate(part, values));
  if (parts.includes(null)) return null;
  const result = OPERATIONS[head](.../** @type {number[]} */ (parts));
  return Number.isFinite(result) ? result : null;
}
