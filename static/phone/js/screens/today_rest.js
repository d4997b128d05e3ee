// What today shows only to whom asks for everything else.
import { h } from "../ui/dom.js";
import { languageChooser, link, note } from "../ui/page.js";
import { t } from "../ui/words.js";

const NEW_MS = 7 * 86_400_000;

/**
 * A phone that joined lately and runs in a tab: above all a private one may forget everything.
 * @param {SyncStatus} now
 */
function installLine({ device_id }) {
  const joinedAt = parseInt(device_id.replace("-", "").slice(0, 12), 16);
  const isInstalled = navigator.standalone || matchMedia("(display-mode: standalone)").matches;
  const isNew = Date.now() - joinedAt < NEW_MS;
  return isNew && !isInstalled && note(t("today.not_installed"));
}

/**
 * @param {App} app
 * @param {SyncStatus} now
 */
export function restLines(app, now) {
  const { created, on_server } = now;
  return [
    h("p", null, t("today.kept", { kept: on_server, n: created })),
    installLine(now),
    app.openBatches().length > 0 && link("#/first", t("first.title")),
    app.reference.gauges?.length && link("#/gauges", t("gauge.title")),
    link("#/export", t("export.title")),
    link("#/practice", t("practice.title")),
    link("#/settings", t("today.settings")),
    languageChooser(app),
  ].filter(Boolean);
}
