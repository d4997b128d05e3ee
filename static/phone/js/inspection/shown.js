// What shows a checklist: its drawing, and the pictures of whatever part of it has one.

/**
 * Names as the reference gives them: round-stove.svg, pictures/tape-across.svg, ...
 * @param {Checklist} compiled
 */
export const listShown = (compiled) => [
  ...new Set([compiled.drawing, ...listPictures(compiled).map((name) => `pictures/${name}.svg`)]),
];

/**
 * @param {any} part
 * @returns {string[]}
 */
function listPictures(part) {
  if (typeof part !== "object" || part === null) return [];
  const inside = Object.values(part).flatMap(listPictures);
  return typeof part.picture === "string" ? [part.picture, ...inside] : inside;
}
