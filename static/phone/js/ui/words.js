// The words of the reader's language, and numbers, times and days as this phone's region writes
// them.

/** @type {Record<string, WordEntry>} */
let catalogue = {};
let language = "en";
let locale = "en";
let plurals = new Intl.PluralRules("en");

/** @type {Intl.NumberFormatOptions} */
const WRITTEN = { maximumFractionDigits: 4, useGrouping: false, numberingSystem: "latn" };
/**
 * Made at the first fraction: a phone takes as long for it as for half its first screen. Once a
 * language: the pad writes twenty numbers at every tap.
 * @type {Intl.NumberFormat | null}
 */
let numbers = null;

/** @param {string | undefined} tag @param {string} language */
const isOf = (tag, language) => `${tag}-`.startsWith(`${language}-`);

/**
 * Takes the words of one language: {key: text | {one, other, ...}}; numbers and days as where the
 * phone's own region speaks it.
 * @param {Record<string, WordEntry>} words
 * @param {string} tag
 */
export function useLanguage(words, tag) {
  catalogue = words;
  language = tag;
  locale = navigator.languages.find((one) => isOf(one, tag)) ?? tag;
  plurals = new Intl.PluralRules(tag);
  numbers = null;
}

/** The language that shows. */
export const currentLanguage = () => language;

/**
 * Links of the page to the words of each language (qcapp/web/phone/app_files.py): hreflang, dir,
 * title (its own name for itself), href.
 * @returns {HTMLLinkElement[]}
 */
export const listLanguages = () => [...document.querySelectorAll("link[hreflang]")].map(asLink);

/** @param {Element} element */
const asLink = (element) => /** @type {HTMLLinkElement} */ (element);

/**
 * The one chosen, else the first of the phone's own that is here, a region served by its language
 * when it has no words; else English.
 * @param {string} [chosen]
 */
function findLanguage(chosen) {
  const all = listLanguages();
  const wanted = [chosen, ...navigator.languages];
  const found = wanted.flatMap((tag) =>
    all.filter(({ hreflang }) => isOf(tag, hreflang)).reverse(),
  );
  return found[0] ?? all[0];
}

/**
 * From now on in the language chosen here, else in the phone's own.
 * @param {string} [chosen]
 */
export async function loadLanguage(chosen) {
  const { hreflang, dir, href } = /** @type {HTMLLinkElement & {dir: string}} */ (
    findLanguage(chosen)
  );
  useLanguage(await (await fetch(href)).json(), hreflang);
  Object.assign(document.documentElement, { lang: hreflang, dir });
  document.title = t("app.name");
}

/**
 * The word for a name that comes from elsewhere, or what stands for one that has none.
 * @param {string} family
 * @param {string} name
 */
export const wordOf = (family, name, other = name) =>
  `${family}.${name}` in catalogue ? t(`${family}.${name}`) : other;

/**
 * The text for a key; {name} is filled from params, params.n chooses the plural form.
 * @param {string} key
 * @param {WordParams} [params]
 * @returns {string}
 */
export function t(key, params = {}) {
  const entry = catalogue[key] ?? key;
  const text =
    typeof entry === "string" ? entry : (entry[plurals.select(params.n ?? NaN)] ?? entry.other);
  return text.replace(/\{(\w+)\}/g, (_, name) => {
    const value = params[name];
    return typeof value === "number" ? formatNumber(value) : String(value ?? "");
  });
}

/**
 * What the server said as data; a code without words by its plain name.
 * @param {StoredReason} reason
 */
export function reasonWords({ code, params }) {
  const key = `reason.${code}`;
  const words = Object.entries(params).map(([name, value]) => {
    if (name === "kind") return [name, wordOf("disposition", String(value))];
    return [name, Array.isArray(value) ? value.join(", ") : value];
  });
  return key in catalogue ? t(key, Object.fromEntries(words)) : code.replaceAll("_", " ");
}

/**
 * A checklist's own text in the reader's language.
 * @param {LocalizedText | null | undefined} text
 */
export function localize(text) {
  return text ? (text[language] ?? text.en) : "";
}

/** The decimal mark of the language, in this phone's region. */
export function decimalMark() {
  return formatNumber(1.5).includes(".") ? "." : ",";
}

/** @param {number} value */
export function formatNumber(value) {
  // These digits are every region's, where they are not grouped.
  if (Number.isSafeInteger(value) && value >= 0) return String(value);
  numbers ??= new Intl.NumberFormat(locale, WRITTEN);
  return numbers.format(value);
}

/**
 * A canonical typed number ("12.50") with that decimal mark.
 * @param {string} text
 */
export function formatTyped(text) {
  return text.replace(/[.,]/, decimalMark());
}

/**
 * A UTC time as this phone's clock shows it.
 * @param {string} iso
 */
export function formatTime(iso) {
  const date = new Date(iso);
  return date.toLocaleTimeString(locale, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

/** @param {string} iso */
export function formatDay(iso) {
  return new Date(iso).toLocaleDateString(locale, { day: "numeric", month: "short" });
}
