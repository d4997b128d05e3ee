// Elements. No text lives in code.

/**
 * An element that index.html holds.
 * @param {string} id
 */
export const findElement = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/**
 * @template {Element} E
 * @param {E} element
 * @param {Attributes | null} attrs
 * @param {Children[]} children
 */
export function fill(element, attrs, children) {
  for (const [name, value] of Object.entries(attrs ?? {})) {
    if ((value ?? false) === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(.../** @type {Node[]} */ (children.flat(2).filter(Boolean)));
  return element;
}

/**
 * An element: h("button", {class, onclick}, ...children); empty children are left out.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes | null} attrs
 * @param {...Children} children
 */
export function h(tag, attrs, ...children) {
  return fill(document.createElement(tag), attrs, children);
}

/**
 * The same for the parts of a drawing.
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes | null} attrs
 * @param {...Children} children
 */
export function s(tag, attrs, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attrs, children);
}

/**
 * Calls `fill` once, when the element comes near the window.
 * @param {Element} element
 * @param {() => unknown} fill
 */
export function whenSeen(element, fill) {
  const observer = new IntersectionObserver(
    ([entry]) => {
      if (!entry.isIntersecting) return;
      observer.disconnect();
      fill();
    },
    { rootMargin: "200px" },
  );
  observer.observe(element);
}
