// What follows a tap besides the screen: a warning that stays, and a short vibration.
import { findElement } from "./dom.js";

// Told apart without looking: one short pulse, or two.
const PULSES = { pass: [25], other: [60, 60, 60] };

/**
 * An empty text takes the warning away.
 * @param {string} text
 */
export function showWarning(text) {
  findElement("ui-warning").textContent = text;
}

/**
 * Where the phone has it; not all do.
 * @param {Verdict} verdict
 */
export function vibrate(verdict) {
  navigator.vibrate?.(verdict === "pass" ? PULSES.pass : PULSES.other);
}
