// The rear camera: closed when its picture is off the page or the page is hidden.
import { findElement } from "./dom.js";

const WISH = { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1440 } };
const EVERY_MS = 200;

export const canScan = () =>
  "BarcodeDetector" in globalThis && Boolean(navigator.mediaDevices?.getUserMedia);

/** @type {(element: Element, act: () => unknown) => void} */
export function whenGone(element, act) {
  const watch = new MutationObserver(() => {
    if (element.isConnected) return;
    watch.disconnect();
    act();
  });
  watch.observe(findElement("screen"), { childList: true, subtree: true });
}

/** @type {OpenCamera} */
export function openCamera(video, ready, failed) {
  if (!video.isConnected) return;
  let asked = 0;
  /** @type {MediaStreamTrack | undefined} */
  let live;
  const close = () => {
    asked += 1;
    live?.stop();
  };
  const open = async () => {
    const mine = ++asked;
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ video: WISH });
      const [track] = stream.getVideoTracks();
      // Allowed too late.
      if (mine !== asked) return track.stop();
      live = track;
      track.onended = () => failed("");
      video.srcObject = stream;
      await video.play();
      if (mine === asked) ready(track);
    } catch (/** @type {any} */ error) {
      if (mine !== asked) return;
      close();
      failed(error.name);
    }
  };
  const turn = () => (document.hidden ? close() : open());
  document.addEventListener("visibilitychange", turn);
  whenGone(video, () => {
    document.removeEventListener("visibilitychange", turn);
    close();
  });
  open();
}

/**
 * The first code in sight; null once the video is off the page.
 * @param {HTMLVideoElement} video
 * @returns {Promise<string | null>}
 */
export const readTag = (video) =>
  new Promise((resolve, reject) => {
    openCamera(video, () => firstCode(video).then(resolve, reject), reject);
  });

/** @param {HTMLVideoElement} video */
async function firstCode(video) {
  const detector = new /** @type {any} */ (globalThis).BarcodeDetector({ formats: ["qr_code"] });
  while (video.isConnected) {
    const [code] = await detector.detect(video);
    if (code?.rawValue?.trim()) return code.rawValue.trim();
    await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
  }
  return null;
}
