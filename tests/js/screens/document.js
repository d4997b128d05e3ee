// A page as far as the screens' modules need one: elements with attributes, children and taps.

class Element {
  constructor(tag) {
    Object.assign(this, { tag, attributes: {}, children: [], taps: [], classList: { add() {} } });
  }

  setAttribute(name, value) {
    this.attributes[name] = String(value);
  }

  getAttribute(name) {
    return this.attributes[name] ?? null;
  }

  addEventListener(name, tap) {
    if (name === "click") this.taps.push(tap);
  }

  append(...children) {
    this.children.push(...children);
  }

  replaceChildren(...children) {
    this.children = children;
  }

  get textContent() {
    return this.children.map((one) => one.textContent ?? String(one)).join("");
  }

  set textContent(text) {
    this.children = [text];
  }
}

/** Every element below, itself first. */
export const listAll = (element) => [
  element,
  ...(element.children ?? []).flatMap((one) => (one instanceof Element ? listAll(one) : [])),
];

/** Those of a class below an element. */
export const listOfClass = (element, name) =>
  listAll(element).filter((one) => (one.getAttribute("class") ?? "").split(" ").includes(name));

/** Gives what runs next a page, in which an SVG text is one element that keeps its text. */
export function usePage() {
  globalThis.document = {
    createElement: (tag) => new Element(tag),
    createElementNS: (_, tag) => new Element(tag),
    importNode: (element) => element,
  };
  globalThis.DOMParser = class {
    parseFromString(source) {
      const svg = new Element("svg");
      svg.source = source;
      return { documentElement: svg };
    }
  };
}
