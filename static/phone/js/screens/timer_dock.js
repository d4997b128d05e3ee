// A check that lasts, such as a load for a minute: its clock beside the verdict.
import { elapsedSeconds, startTimer } from "../inspection/timer.js";
import { h } from "../ui/dom.js";
import { vibrate } from "../ui/feedback.js";
import { button } from "../ui/page.js";
import { shape } from "../ui/verdict.js";
import { t } from "../ui/words.js";

const TICK_MS = 250;

/**
 * Before it runs: a button that starts it. Then what is left of it, in large digits.
 * @param {App} app
 * @param {Check} check
 */
export function timerLine(app, check) {
  const lasts = Number(check.lasts_seconds);
  const readElapsed = () => elapsedSeconds(app.draft, check.id, app.now());
  if (readElapsed() === null) {
    const start = () => app.changeDraft(startTimer(app.draft, check.id, app.now()));
    return button("timer.start", "plain wide", start, { n: lasts }, { id: "ui-timer" });
  }
  const line = h("div", { class: "timer", id: "ui-timer", role: "timer" });
  const paint = () => {
    const left = Math.max(0, lasts - Number(readElapsed()));
    line.replaceChildren(...(left > 0 ? running(left, lasts) : [shape("pass"), isUp(lasts)]));
    return left > 0;
  };
  if (!paint()) return line;
  const ticking = setInterval(() => {
    // Another screen took its place.
    if (!line.isConnected) return clearInterval(ticking);
    if (paint()) return;
    clearInterval(ticking);
    if (!app.isStill) vibrate("fail");
  }, TICK_MS);
  return line;
}

/** @param {number} lasts */
const isUp = (lasts) => h("b", null, t("timer.up", { n: lasts }));

/**
 * @param {number} left
 * @param {number} lasts
 */
const running = (left, lasts) => [
  h("output", null, String(left), h("small", null, " s")),
  h("progress", { max: lasts, value: lasts - left, "aria-hidden": "true" }),
];
