// The camera in front of a stove's tag.
import { h } from "../ui/dom.js";
import { vibrate } from "../ui/feedback.js";
import { alertLine, page } from "../ui/page.js";
import { readTag } from "../ui/camera.js";
import { t } from "../ui/words.js";

/** @param {App} app */
export function scanScreen(app) {
  const attrs = { class: "camera", muted: true, playsinline: true, "aria-label": t("scan.how") };
  const video = h("video", attrs);
  const place = h("div", { id: "ui-camera" }, video, h("p", null, t("scan.how")));
  const type = h("a", { class: "plain", href: "#/find" }, t("scan.type"));
  const read = async () => {
    try {
      const text = await readTag(video);
      if (text === null || !video.isConnected) return;
      if (!app.isStill) vibrate("pass");
      // The way back from the stove leads past the camera.
      history.replaceState(null, "", `#/find/${encodeURIComponent(text)}`);
      app.refresh();
    } catch {
      place.replaceChildren(alertLine(t("scan.no_camera")));
    }
  };
  // Once it is on the page.
  setTimeout(read);
  return page({ title: t("scan.go"), back: "#/find", className: "scan", actions: type }, place);
}
