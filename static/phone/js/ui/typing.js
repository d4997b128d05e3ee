// Keyboards that type by themselves: a caliper's or scanner's adapter sends a value, then Enter.

/**
 * Enter in a field of the screen goes to the next one, and after the last one does `done`.
 * @param {Element} screen
 * @param {() => unknown} done
 */
export function enterGoesOn(screen, done) {
  screen.addEventListener("keydown", (event) => {
    const { key, target, isComposing } = /** @type {KeyboardEvent} */ (event);
    if (key !== "Enter" || isComposing || !(target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const fields = [...screen.querySelectorAll("input")];
    const next = fields[fields.indexOf(target) + 1];
    if (next) next.focus();
    else done();
  });
}

const FIELDS = "input, textarea, select";

/** What a key of such a keyboard means on the number pad, or null. @param {string} key */
export function padKey(key) {
  if (/^[0-9]$/.test(key)) return key;
  if (key === "." || key === ",") return ",";
  return { Backspace: "back", Enter: "ok" }[key] ?? null;
}

/** @type {{press: (key: string) => boolean} | null} */
let pad = null;
let isTyped = false;
let isListening = false;

/**
 * From now on what is typed outside a field goes to `press`, which says whether it took the key.
 * Enter is taken only after a typed character: else it presses what has the focus.
 * @param {(key: string) => boolean} press
 */
export function typeInto(press) {
  pad = { press };
  if (isListening) return;
  isListening = true;
  addEventListener("keydown", (event) => {
    const { key, target, ctrlKey, altKey, metaKey } = event;
    const meant = padKey(key);
    if (!pad || !meant || ctrlKey || altKey || metaKey) return;
    if (target instanceof Element && target.closest(FIELDS)) return;
    if (meant === "ok" && !isTyped) return;
    if (!pad.press(meant)) return;
    isTyped = meant !== "ok";
    event.preventDefault();
  });
}
