// What screens are put together from: page, list, row, sheet, button, field.
import { h } from "./dom.js";
import { currentLanguage, listLanguages, t } from "./words.js";

/**
 * @param {string} key
 * @param {string} className
 * @param {() => unknown} onclick
 * @param {WordParams} [params]
 * @param {Attributes} [more]
 */
export function button(key, className, onclick, params, more = {}) {
  return h("button", { type: "button", class: className, onclick, ...more }, t(key, params));
}

/**
 * A line that leads to another screen.
 * @param {string} href
 * @param {...Children} content
 */
export const link = (href, ...content) => h("a", { class: "line", href }, ...content);

/** @param {...Children} content */
export const strong = (...content) => h("p", { class: "strong" }, ...content);

/** @param {...Children} content */
export const note = (...content) => h("p", { class: "note" }, ...content);

/** A note that is read out when it comes. @param {...Children} content */
export const alertLine = (...content) => h("p", { class: "note", role: "alert" }, ...content);

/** The actions at the thumb. @param {...Children} content */
export const dock = (...content) => h("div", { class: "dock" }, ...content);

/**
 * What is rarely wanted, behind a line that opens it.
 * @param {string} key
 * @param {...Children} content
 */
export const disclosure = (key, ...content) =>
  h("details", null, h("summary", null, t(key)), ...content);

/**
 * Parts of one line; what is empty is left out.
 * @param {(string | false | null | undefined)[]} parts
 */
export const joinLine = (parts) => parts.filter(Boolean).join(" · ");

/**
 * A page with its title, a way back, what stands beside the title, and its actions at the thumb.
 * @param {PageHead} head
 * @param {...Children} content
 */
export function page({ title, back, beside, actions, className = "" }, ...content) {
  const chevron = h("span", { class: "chevron" });
  const wayBack =
    back && h("a", { class: "back", href: back, "aria-label": t("page.back") }, chevron);
  return h(
    "div",
    { class: `page ${className}` },
    h("header", { class: "head" }, wayBack, h("h1", { tabindex: "-1" }, title), beside),
    h("div", { class: "content" }, ...content),
    actions && dock(actions),
  );
}

/**
 * @param {Children} rows
 * @param {Attributes} [attrs]
 */
export const list = (rows, attrs) => h("ul", { class: "rows", ...attrs }, rows);

/**
 * A row of a list: mark or picture, two lines of text, what follows on a tap. With `pressed` it is
 * one choice of several, of which more than one may be chosen where it isOneOfMany.
 * @param {ListRow} row
 */
export function row({ mark, text, under, onclick, pressed, isOneOfMany, ...attrs }) {
  const isChoice = pressed !== undefined;
  const inside = [
    isChoice && h("span", { class: isOneOfMany ? "box" : "radio" }),
    mark,
    h("span", { class: "row-text" }, h("span", null, text), under && h("small", null, under)),
  ];
  if (!onclick) return h("li", { class: "row" }, inside);
  const state = { "aria-pressed": isChoice && String(pressed), ...attrs };
  return h("li", null, h("button", { type: "button", class: "row", onclick, ...state }, inside));
}

/**
 * A sheet over the walk; the phone's own way back does what `close` does. Its actions stand below
 * what scrolls.
 * @param {{title: string, close: () => unknown, actions: Children}} head
 * @param {...Children} content
 */
export function sheet({ title, close, actions }, ...content) {
  const oncancel = (/** @type {Event} */ event) => {
    event.preventDefault();
    close();
  };
  return h(
    "dialog",
    { "aria-labelledby": "ui-sheet-title", oncancel },
    h(
      "div",
      { class: "sheet-content" },
      h("h2", { id: "ui-sheet-title", tabindex: "-1", autofocus: true }, title),
      ...content,
    ),
    dock(actions),
  );
}

/**
 * Where a few words are typed; `onchange(text)` follows every character.
 * @param {string | null} id
 * @param {string | undefined} text
 * @param {(text: string) => void} onchange
 */
export function wordsField(id, text, onchange) {
  const field = h("textarea", { id, rows: 2, maxlength: 500 }, text ?? "");
  field.addEventListener("input", () => onchange(field.value));
  return field;
}

/**
 * Each language by its own name, so that it is found by whoever cannot read the one that shows.
 * @param {App} app
 */
export function languageChooser(app) {
  const chip = (/** @type {HTMLLinkElement} */ { hreflang, title }) => {
    const pressed = String(hreflang === currentLanguage());
    const onclick = () => app.chooseLanguage(hreflang);
    const attrs = { class: "chip", lang: hreflang, "aria-pressed": pressed, onclick };
    return h("button", { type: "button", ...attrs }, title);
  };
  return h("p", { class: "chips" }, listLanguages().map(chip));
}
