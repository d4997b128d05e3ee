// Reading the code of a stove's tag with the camera, where the browser has BarcodeDetector; typing
// stays everywhere.

const EVERY_MS = 200;

/** Whether this browser can, as far as it tells before the camera is asked for. */
export const canScan = () =>
  "BarcodeDetector" in globalThis && Boolean(navigator.mediaDevices?.getUserMedia);

/**
 * Shows the camera in `video` and gives the text of the first code in sight; null once the video is
 * taken off the page. The camera is closed in any case.
 * @param {HTMLVideoElement} video
 * @returns {Promise<string | null>}
 */
export async function readTag(video) {
  const wish = { video: { facingMode: "environment" }, audio: false };
  const stream = await navigator.mediaDevices.getUserMedia(wish);
  try {
    video.srcObject = stream;
    await video.play();
    return await firstCode(video);
  } finally {
    stream.getTracks().forEach((track) => track.stop());
  }
}

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
