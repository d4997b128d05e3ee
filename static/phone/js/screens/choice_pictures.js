// Faults and options as pictures of what they look like, each above its words.
import { CANNOT_MEASURE } from "../inspection/record.js";
import { h, s } from "../ui/dom.js";
import { readDrawing } from "../ui/drawing.js";

/**
 * A picture of the checklist by its name; null where the checklist names none or this phone lacks
 * it.
 * @param {App} app
 * @param {string | null | undefined} name
 */
export function pictureOf(app, name) {
  const source = name && app.drawingOf(`pictures/${name}.svg`);
  return source ? readDrawing(source, "picture") : null;
}

/** A rule crossed out: no checklist has a picture of what cannot be measured. */
function crossedRule() {
  const attrs = { fill: "none", stroke: "currentColor", "stroke-width": 3, "aria-hidden": "true" };
  return s(
    "svg",
    { class: "picture", viewBox: "0 0 120 80", ...attrs },
    s("path", { d: "M6 30H114V50H6ZM24 30v9M42 30v9M60 30v9M78 30v9M96 30v9" }),
    s("path", { class: "clay", "stroke-width": 5, d: "M36 12L84 68M84 12L36 68" }),
  );
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {string | null} id
 */
export function faultPicture(app, { faults }, id) {
  if (id === CANNOT_MEASURE) return crossedRule();
  return pictureOf(app, faults.find((fault) => fault.id === id)?.picture);
}

/**
 * One of those to choose from. With `pressed` more than one may be chosen.
 * @param {PictureTile} tile
 */
export function pictureTile({ picture, text, pressed, ...attrs }) {
  const isOneOfMany = pressed !== undefined;
  return h(
    "button",
    {
      type: "button",
      class: "look",
      "aria-pressed": isOneOfMany && String(pressed),
      ...attrs,
    },
    isOneOfMany && h("span", { class: "box" }),
    picture,
    h("span", null, text),
  );
}

/**
 * @param {HTMLElement[]} tiles
 * @param {Attributes} [attrs]
 */
export const pictureTiles = (tiles, attrs) =>
  h(
    "ul",
    { class: "looks", ...attrs },
    tiles.map((tile) => h("li", null, tile)),
  );
