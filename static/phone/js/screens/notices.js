// Full screens that say what went wrong, or what to do before anything is recorded.
import { h } from "../ui/dom.js";
import { button, link, note, page, strong } from "../ui/page.js";
import { formatDay, formatTime, t, wordOf } from "../ui/words.js";

/** @param {string} title @param {Children} actions @param {...Children} content */
const alarm = (title, actions, ...content) =>
  page({ title: t(title), className: "alarm", actions }, ...content);

/** @param {string} text */
const urgent = (text) => h("p", { class: "strong", role: "alert" }, text);

/** @param {Error} error */
const errorNote = (error) => note(t("not_saved.error", { error: error.message || error.name }));

/**
 * Without a secure context the app could not start again offline, so nothing may be recorded here.
 */
export function insecureNotice() {
  return page(
    { title: t("insecure.title") },
    strong(t("insecure.why")),
    h("p", null, t("insecure.todo")),
  );
}

/**
 * On an iPhone a tab is wiped after a week without a visit, and the installed app does not see what
 * it kept.
 * @param {string} [code]
 */
export function installNotice(code) {
  return page(
    { title: t("install.title") },
    strong(t("install.todo")),
    code && h("p", null, t("install.code"), h("b", { class: "code" }, code)),
    h("p", null, t("install.why")),
  );
}

/**
 * The app cannot go on: its storage did not open, or a file of it is broken or out of reach.
 * @param {Error} error
 */
export function brokenNotice(error) {
  const retry = button("not_saved.retry", "go", () => location.reload());
  return alarm("broken.title", retry, urgent(t("broken.todo")), errorNote(error));
}

/**
 * Nothing was lost on the screen, but the phone did not keep it. retry tries once more, back shows
 * the form.
 * @param {{error: Error, retry: () => void, back: () => void}} what
 */
export function notSavedNotice({ error, retry, back }) {
  return alarm(
    "not_saved.title",
    [button("not_saved.back", "plain", back), button("not_saved.retry", "go", retry)],
    urgent(t("not_saved.what")),
    h("p", null, wordOf("not_saved", error.name, t("not_saved.todo"))),
    error.name === "QuotaExceededError" && link("#/export", t("export.title")),
    errorNote(error),
  );
}

/**
 * Records that this phone once held and no longer has.
 * @param {Loss} loss
 * @param {() => void} go
 */
export function lossNotice({ lost, last_saved_at: at }, go) {
  return alarm(
    "loss.title",
    button("loss.go", "go", go),
    urgent(t("loss.what", { n: lost })),
    at && h("p", null, t("loss.when", { day: formatDay(at), time: formatTime(at) })),
    h("p", null, t("loss.todo")),
  );
}
