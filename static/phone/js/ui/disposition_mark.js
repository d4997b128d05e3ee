// What becomes of a stove, as a shape that no other one is like: it goes out, comes round again,
// goes with a warning, is broken up, or stands. Drawn as large as its square allows.
import { s } from "./dom.js";

/** @type {Record<string, [string, string][]>} outlines, each with its class */
const SHAPES = {
  release: [["M1 7h10V1l12 11-12 11v-6H1z", "solid"]],
  rework: [
    ["M20.2 8.5A9.3 9.3 0 1 0 21.3 13", "round"],
    ["M23.5 1.5v9.3h-9.3z", "solid"],
  ],
  concession: [
    ["M12 .5L23.5 12 12 23.5.5 12z", "solid"],
    ["M12 6.5v6.5M12 17v.2", "inner"],
  ],
  scrap: [
    ["M1 1h10l-3 7 4 6-4 9H1z", "solid"],
    ["M14.5 1H23v22H11.5l4-9-4-6z", "solid"],
  ],
  hold: [["M2 1h7.5v22H2zM14.5 1H22v22h-7.5z", "solid"]],
  none: [["M5 12h14", "line"]],
};

/**
 * The mark of a disposition; its word must stand beside it.
 * @param {Disposition | null} kind none where no record counts
 */
export function dispositionMark(kind) {
  const name = kind ?? "none";
  const attrs = { class: `shape for-${name}`, viewBox: "0 0 24 24", "aria-hidden": "true" };
  return s("svg", attrs, SHAPES[name].map(([d, kind]) => s("path", { d, class: kind })));
}

const WHERE = {
  phone: "M6 1h12q2 0 2 2v18q0 2-2 2H6q-2 0-2-2V3q0-2 2-2zM8 7h8M8 12h8",
  yard: "M2 10.5L12 1.5l10 9V23H2zM7 13h10M7 18h10",
};

/**
 * Where a record is: in this phone alone, or with the yard too.
 * @param {"phone" | "yard"} where
 */
export function recordMark(where) {
  const attrs = { class: `shape at-${where}`, viewBox: "0 0 24 24", "aria-hidden": "true" };
  return s("svg", attrs, s("path", { d: WHERE[where], class: "thin" }));
}
