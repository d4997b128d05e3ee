// The mark of a verdict, told apart by form alone, and its word.
import { findElement, h, s } from "./dom.js";
import { t } from "./words.js";

/**
 * Outline and inner stroke of a verdict, drawn in index.html.
 * @param {Verdict} verdict
 */
export function shapeParts(verdict) {
  const shapes = /** @type {HTMLTemplateElement} */ (findElement("shapes"));
  const drawn = shapes.content.querySelector(`.${verdict}`);
  return [.../** @type {Element} */ (drawn?.cloneNode(true)).children];
}

/**
 * The mark of a verdict; the word must stand beside it or be read out by its label.
 * @param {Verdict} verdict
 */
export function shape(verdict) {
  const attrs = { class: `shape ${verdict}`, viewBox: "0 0 24 24", "aria-hidden": "true" };
  return s("svg", attrs, shapeParts(verdict));
}

/**
 * Mark and word.
 * @param {Verdict} verdict
 */
export function verdictLine(verdict, word = t(`verdict.${verdict}`)) {
  return h("span", { class: `verdict ${verdict}` }, shape(verdict), h("b", null, word));
}
