// The rear camera in a page: closed as soon as its picture is off the page or the page is hidden.
// Where the browser has BarcodeDetector it reads the code of a stove's tag; typing stays everywhere.
import { findElement } from "./dom.js";

// Four to three, as most sensors are.
const WISH = { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1440 } };
const EVERY_MS = 200;

/** Whether this browser can, as far as it tells before the camera is asked for. */
export const canScan = () =>
  "BarcodeDetector" in globalThis && Boolean(navigator.mediaDevices?.getUserMedia);

/**
 * Calls `act` when the element is taken off the page.
 * @type {(element: Element, act: () => unknown) => void}
 */
export function whenGone(element, act) {
  const watch = new MutationObserver(() => {
    if (element.isConnected) return;
    watch.disconnect();
    act();
  });
  watch.observe(findElement("screen"), { childList: true, subtree: true });
}

/** Shows it in a video on the page. @type {OpenCamera} */
export function openCamera(video, ready, failed) {
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
      // The browser may be answered after the person has left.
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
 * The text of the first code in sight of the camera; null once the video is taken off the page.
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
