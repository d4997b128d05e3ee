// Cautions, photos and what is known of this phone.
import { isStorageProtected } from "../store/free_space.js";
import { setMeta } from "../store/local_db.js";
import { allowPhotosNow, isFreeNetwork } from "../sync/photo_upload.js";
import { status } from "../sync/status.js";
import { syncNow } from "../sync/sync.js";
import { h } from "../ui/dom.js";
import { button, link, list, note, page, row } from "../ui/page.js";
import { formatDay, formatTime, t } from "../ui/words.js";

const CAUTIONS = ["pass", "monoxide", "hot", "load"];

/**
 * Whether photos wait for Wi-Fi, and what this phone can know of its network.
 * @param {App} app
 * @param {SyncStatus} now
 */
function photoSettings(app, { is_wifi_only, photos }) {
  const sendNow = async () => {
    await allowPhotosNow();
    return app.refresh({ sent: await syncNow() });
  };
  const wifiOnly = row({
    id: "ui-wifi-only",
    text: t("settings.wifi_only"),
    pressed: Boolean(is_wifi_only),
    onclick: () => setMeta("is_wifi_only", !is_wifi_only).then(() => app.refresh()),
    under: is_wifi_only && !isFreeNetwork(navigator.connection) && t("settings.network_costly"),
  });
  return [
    h("h2", null, t("settings.photos")),
    photos.refused > 0 && note(t("settings.photos_refused", { n: photos.refused })),
    list(wifiOnly),
    photos.waiting + photos.refused > 0 &&
      button("settings.photos_send", "plain wide", sendNow, {}, { id: "ui-send-photos" }),
  ];
}

/**
 * By part, or by tool where a checklist names tools.
 * @param {App} app
 */
function orderSetting(app) {
  if (!app.checklists.some(({ compiled }) => compiled.tools?.length)) return null;
  const rows = [false, true].map((isByTool) =>
    row({
      id: isByTool ? "ui-by-tool" : "ui-by-part",
      text: t(isByTool ? "settings.by_tool" : "settings.by_part"),
      under: t(isByTool ? "settings.by_tool_means" : "settings.by_part_means"),
      pressed: Boolean(app.isByTool) === isByTool,
      onclick: () => setMeta("is_by_tool", isByTool).then(() => app.refresh({ isByTool })),
    }),
  );
  return [h("h2", null, t("settings.order")), list(rows)];
}

/**
 * The short vibration after each answer; some phones have none.
 * @param {App} app
 */
function vibrationSetting(app) {
  if (!("vibrate" in navigator)) return null;
  const isStill = !app.isStill;
  const toggle = () => setMeta("is_still", isStill).then(() => app.refresh({ isStill }));
  return [
    h("h2", null, t("settings.answers")),
    list(
      row({
        id: "ui-vibrate",
        text: t("settings.vibrate"),
        pressed: !app.isStill,
        onclick: toggle,
      }),
    ),
  ];
}

/**
 * @param {App} app
 * @param {SyncStatus} now
 * @param {boolean} isProtected
 */
function phoneFacts(app, now, isProtected) {
  const at = now.last_contact_at;
  const facts = {
    phone: now.device_name ?? "",
    unsent: String(now.unsent),
    contact: at ? `${formatDay(at)}, ${formatTime(at)}` : "",
    build: app.build,
    storage: t(isProtected ? "settings.protected" : "settings.not_protected"),
  };
  const lines = Object.entries(facts).map(([key, value]) => [
    h("dt", null, t(`settings.${key}`)),
    h("dd", null, value),
  ]);
  return h("dl", null, lines);
}

/** @param {App} app */
export async function settingsScreen(app) {
  const [now, isProtected] = await Promise.all([status(), isStorageProtected()]);
  const cautions = CAUTIONS.map((key) => h("li", null, t(`caution.${key}`)));
  return page(
    { title: t("settings.title"), back: "#/today" },
    h("h2", null, t("caution.title")),
    h("ul", { class: "cautions" }, cautions),
    orderSetting(app),
    vibrationSetting(app),
    photoSettings(app, now),
    link("#/export", t("export.title")),
    link("#/holes", t("holes.title")),
    h("h2", null, t("settings.about")),
    phoneFacts(app, now, isProtected),
  );
}
