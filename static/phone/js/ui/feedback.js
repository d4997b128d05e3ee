// Short messages beside the screen: a passing one that a part is done, and a warning that stays.
import { h } from "./dom.js";
import { shape } from "./verdict.js";

const TOAST_MS = 1100;
let toastTimer = 0;

/** The next part already shows below it. */
export function showToast(verdict, text) {
  const toast = document.getElementById("ui-toast");
  toast.replaceChildren(shape(verdict), h("span", null, text));
  toast.className = `shown ${verdict}`;
  clearTimeout(toastTimer);
  toastTimer = setTimeout(() => {
    toast.className = "";
  }, TOAST_MS);
}

/** An empty text takes the warning away. */
export function showWarning(text) {
  document.getElementById("ui-warning").textContent = text;
}
