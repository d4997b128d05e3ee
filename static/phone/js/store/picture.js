// A picture of the camera made small.
import { PHOTO_TYPE } from "./photos.js";

const PHOTO_QUALITY = 0.6;
const THUMB_PX = 160;

/**
 * {bytes, thumb}: JPEG, upright, longest side at most `longestPx`, and one of about 4 kB. Drawing
 * it anew leaves place and time of the camera (EXIF) behind; decoding straight to the small size
 * spares a phone with little memory.
 * @param {Blob} blob
 * @param {number} longestPx
 */
export async function shrinkPhoto(blob, longestPx) {
  const bitmap = await createImageBitmap(blob, {
    resizeWidth: longestPx,
    resizeQuality: "medium",
    imageOrientation: "from-image",
  });
  const made = {
    bytes: await drawJpeg(bitmap, longestPx),
    thumb: await drawJpeg(bitmap, THUMB_PX),
  };
  bitmap.close();
  return made;
}

/**
 * @param {ImageBitmap} bitmap
 * @param {number} longestPx
 */
async function drawJpeg(bitmap, longestPx) {
  const scale = Math.min(1, longestPx / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(bitmap.width * scale);
  canvas.height = Math.round(bitmap.height * scale);
  canvas.getContext("2d")?.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  /** @type {Blob | null} */
  const jpeg = await new Promise((resolve) => canvas.toBlob(resolve, PHOTO_TYPE, PHOTO_QUALITY));
  if (!jpeg) throw new DOMException("", "NoPicture");
  return jpeg.arrayBuffer();
}
