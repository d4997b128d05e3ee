// What a test asks of a shown phone screen, measured as it is rendered.
const CONTROLS = ["button", "a[href]", "summary", "select", "textarea", "input:not(.beside)"];
// A picture is taken through the label of its hidden field.
const LABELS = ["ui-photo", "ui-take", "ui-holes"].map((id) => `label[for=${id}]`);
const TARGETS = [...CONTROLS, ...LABELS].join(", ");
const readRoot = () => document.querySelector("dialog[open]") ?? document.body;
const isSeen = (one) => one.checkVisibility() && one.getBoundingClientRect().width > 0;
const nameOf = (one) =>
  `${one.id || one.className || one.tagName}: ${one.textContent.slice(0, 30)}`;

/** The part of a box that its scrolling parents let through; null when nothing is left. */
function visibleBox(one) {
  let { left, top: upper, right, bottom } = one.getBoundingClientRect();
  for (let parent = one.parentElement; parent; parent = parent.parentElement) {
    if (getComputedStyle(parent).overflowY === "visible") continue;
    const box = parent.getBoundingClientRect();
    [left, upper, right, bottom] = [
      Math.max(left, box.left),
      Math.max(upper, box.top),
      Math.min(right, box.right),
      Math.min(bottom, box.bottom),
    ];
  }
  return right - left > 1 && bottom - upper > 1 ? { left, top: upper, right, bottom } : null;
}

/** [name, width, height, isJudge] of everything a thumb is meant to hit. */
function readTargets() {
  return [...readRoot().querySelectorAll(TARGETS)].filter(isSeen).map((one) => {
    const { width, height } = one.getBoundingClientRect();
    return [nameOf(one), width, height, one.matches(".big")];
  });
}

/** Pairs nearer than `least` px. Rows of a list touch: each is as wide as the screen, taller than a
 * thumb, and ruled off. */
function readCrowded(least) {
  const shown = [...readRoot().querySelectorAll(TARGETS)]
    .filter(isSeen)
    .map((one) => ({ one, box: visibleBox(one) }))
    .filter(({ box }) => box);
  const isRow = (one) => one.matches(".row, .line");
  const crowded = [];
  shown.forEach((a, at) =>
    shown.slice(at + 1).forEach((b) => {
      if (a.one.contains(b.one) || b.one.contains(a.one) || (isRow(a.one) && isRow(b.one))) return;
      const across = Math.max(a.box.left, b.box.left) - Math.min(a.box.right, b.box.right);
      const down = Math.max(a.box.top, b.box.top) - Math.min(a.box.bottom, b.box.bottom);
      if (Math.max(across, down) < least - 0.01)
        crowded.push([nameOf(a.one), nameOf(b.one), Math.max(across, down)]);
    }),
  );
  return crowded;
}

const parse = (colour) => (colour.match(/[\d.]+/g) ?? []).map(Number);

function groundOf(one) {
  for (let place = one; place; place = place.parentElement) {
    const [r, g, b, alpha = 1] = parse(getComputedStyle(place).backgroundColor);
    if (alpha === 1) return [r, g, b];
    if (alpha > 0) throw new Error(`half-transparent ground: ${nameOf(place)}`);
  }
  return [255, 255, 255];
}

/** Relative luminance of an sRGB colour (WCAG 2.2). */
function luminance([r, g, b]) {
  const [x, y, z] = [r, g, b]
    .map((part) => part / 255)
    .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * x + 0.7152 * y + 0.0722 * z;
}

/** [words, contrast ratio] of every text that shows; a text in a half-transparent part counts as none. */
function readContrasts() {
  const walker = document.createTreeWalker(readRoot(), NodeFilter.SHOW_TEXT);
  const found = [];
  while (walker.nextNode()) {
    const holder = walker.currentNode.parentElement;
    const words = walker.currentNode.data.trim();
    if (!words || holder.closest("noscript, script, option") || !isSeen(holder)) continue;
    const style = getComputedStyle(holder);
    const ink = parse(holder.namespaceURI.endsWith("svg") ? style.fill : style.color);
    const [light, dark] = [luminance(ink), luminance(groundOf(holder))].sort((a, b) => b - a);
    let opacity = ink[3] ?? 1;
    for (let place = holder; place; place = place.parentElement)
      opacity *= getComputedStyle(place).opacity;
    found.push([words, opacity < 1 ? 0 : (light + 0.05) / (dark + 0.05)]);
  }
  return found;
}

/** Elements that move by themselves or slide from one look to the next. */
function readMoving() {
  return [...document.querySelectorAll("*")]
    .filter((one) => {
      const { animationName, transitionDuration } = getComputedStyle(one);
      return animationName !== "none" || parse(transitionDuration).some((seconds) => seconds > 0);
    })
    .map(nameOf);
}

/** Buttons that cannot be pressed and do not look so, or the other way round. */
function readUnlikeDisabled() {
  const isDashed = (style) => [style.borderTopStyle, style.outlineStyle].includes("dashed");
  return [...readRoot().querySelectorAll("button")]
    .filter(isSeen)
    .filter(
      (one) =>
        one.hasAttribute("aria-disabled") || isDashed(getComputedStyle(one)) !== one.disabled,
    )
    .map(nameOf);
}

globalThis.reading = { readUnlikeDisabled, readTargets, readCrowded, readContrasts, readMoving };
