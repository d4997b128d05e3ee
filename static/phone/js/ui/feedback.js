// Short messages beside the screen: a passing one that a part is done, and a warning that stays.
import { findElement, h } from "./dom.js";
import { shape } from "./verdict.js";

const TOAST_MS = 1100;
let toastTimer = 0;

/**
 * The next part already shows below it.
 * @param {Verdict} verdict
 * @param {string} text
 */
export function showToast(verdict, text) {
  const toast = findElement("ui-toast");
  toast.replaceChildren(shape(verdict), h("span", null, text));
  toast.className = `shown ${verdict}`;
  clearTimeout(toastTimer);
  toastTimer = setTimeout(() => {
    toast.className = "";
  }, TOAST_MS);
}

/**
 * An empty text takes the warning away.
 * @param {string} text
 */
export function showWarning(text) {
  findElement("ui-warning").textContent = text;
}
