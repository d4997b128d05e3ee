// Photos go in pieces, from where the server has got to.
import { findPhoto, listUnsentPhotos, offerRefusedPhotos, settlePhoto } from "../store/photos.js";
import { Stop } from "./http.js";
import { session } from "./session.js";

const PIECE_BYTES = 32_768;
const NOT_SAID = { code: "refused", params: {} };

/**
 * The next exchange sends photos whatever the network, and those that the server refused once
 * more.
 */
export async function allowPhotosNow() {
  session.arePhotosAllowed = true;
  await offerRefusedPhotos();
}

/**
 * Whether photos may go by themselves over this network; what is not known may cost money.
 * @param {{type?: string} | undefined} connection
 */
export function isFreeNetwork(connection) {
  return ["wifi", "ethernet"].includes(connection?.type ?? "");
}

/**
 * Sends what the server has not got. One that it refuses is kept, marked, and holds up no other.
 * @param {SendPiece} send
 * @param {boolean | undefined} isWifiOnly
 */
export async function sendPhotos(send, isWifiOnly) {
  if (isWifiOnly && !session.arePhotosAllowed && !isFreeNetwork(navigator.connection)) return;
  for (const name of await listUnsentPhotos()) {
    const photo = await findPhoto(name);
    if (!photo?.bytes) continue;
    const { is_whole, reason } = await sendPieces(send, `/api/photos/${name}`, photo.bytes);
    if (is_whole || reason) await settlePhoto(name, reason);
  }
  session.arePhotosAllowed = false;
}

/**
 * Sends bytes in pieces, from where the server has got to; gives {is_whole, reason?}: whether it
 * has all of them, or why it will not take them. `send(path, options)` is call() or a wrapper of
 * it.
 * Throws Stop when the connection ends.
 * @param {SendPiece} send
 * @param {string} path
 * @param {ArrayBuffer} bytes
 * @returns {Promise<{is_whole: boolean, reason?: StoredReason}>}
 */
export async function sendPieces(send, path, bytes) {
  let answer = await send(path, { method: "HEAD" });
  // Twice as many tries as pieces: room for wrong places and for one start from zero.
  for (let left = 2 * Math.ceil(bytes.byteLength / PIECE_BYTES) + 2; left > 0; left -= 1) {
    if (["refused", "too-large"].includes(answer.kind))
      return { is_whole: false, reason: answer.error?.reason ?? NOT_SAID };
    if (answer.kind !== "ok" && answer.kind !== "offset") throw new Stop(answer);
    const { kind, offset = 0 } = answer;
    if (offset >= bytes.byteLength) return { is_whole: kind === "ok" };
    const piece = bytes.slice(offset, offset + PIECE_BYTES);
    const headers = {
      "Upload-Length": String(bytes.byteLength),
      "Upload-Offset": String(offset),
    };
    answer = await send(path, { method: "PATCH", bytes: piece, headers });
  }
  return { is_whole: false };
}
