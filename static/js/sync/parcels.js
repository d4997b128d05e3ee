// What goes another way than the push: photos in pieces after the records, and unsent work as a
// file that is carried by hand. A file is a copy: making one marks nothing as sent.
import { browserSources, canonicalJson, eventHash } from "../inspection/event.js";
import { findChecklist, findPhoto, getDevice, keepChecklist, listUnsentPhotos, offerRefusedPhotos, savePhoto, settlePhoto } from "../store/keep.js";
import { listUnsent, takeRelayed } from "../store/outbox.js";
import { Stop } from "./call.js";

const PIECE_BYTES = 32_768;
const FORMAT = "handover/1";
const MOST_PHOTO_BYTES = 8_000_000;
// Browsers share only files of some types; plain text is among them, JSON is not.
const FILE_TYPE = "text/plain";

// --- Photos

let isWished = false;

/** The next exchange sends photos whatever the network, and those that the server refused once more. */
export async function wishPhotos() {
  isWished = true;
  await offerRefusedPhotos();
}

/** Whether photos may go by themselves over this network; what is not known may cost money. */
export function isFreeNetwork(connection) {
  return ["wifi", "ethernet"].includes(connection?.type);
}

/** Sends what the server has not got. One that it refuses is kept, marked, and holds up no other. */
export async function sendPhotos(send, isWifiOnly) {
  if (isWifiOnly && !isWished && !isFreeNetwork(navigator.connection)) return;
  for (const name of await listUnsentPhotos()) {
    const photo = await findPhoto(name);
    const { is_whole, reason } = photo ? await sendPieces(send, `/api/photos/${name}`, photo.bytes) : {};
    if (is_whole || reason) await settlePhoto(name, reason);
  }
  isWished = false;
}

/**
 * Sends bytes in pieces, from where the server has got to; gives {is_whole, reason?}: whether it has
 * all of them, or why it will not take them. `send(path, wish)` is call() or a wrapper of it.
 * Throws Stop when the connection ends.
 */
export async function sendPieces(send, path, bytes) {
  let answer = await send(path, { method: "HEAD" });
  // Twice as many tries as pieces: room for wrong places and for one start from zero.
  for (let left = 2 * Math.ceil(bytes.byteLength / PIECE_BYTES) + 2; left > 0; left -= 1) {
    if (["refused", "too-large"].includes(answer.kind)) return { is_whole: false, reason: answer.error?.what ?? answer.kind };
    if (answer.kind !== "ok" && answer.kind !== "offset") throw new Stop(answer);
    if (answer.offset >= bytes.byteLength) return { is_whole: answer.kind === "ok" };
    const piece = bytes.slice(answer.offset, answer.offset + PIECE_BYTES);
    const headers = { "Upload-Length": String(bytes.byteLength), "Upload-Offset": String(answer.offset) };
    answer = await send(path, { method: "PATCH", bytes: piece, headers });
  }
  return { is_whole: false };
}

// --- By hand

/** Compiled checklists that the events use, those with a `known` hash left out. */
export async function listDefinitions(events, known = []) {
  const hashes = new Set(events.map((event) => event.checklist_hash).filter((hash) => hash && !known.includes(hash)));
  return (await Promise.all([...hashes].map(findChecklist))).filter(Boolean);
}

/** {file, n, photos, left}: every unsent record, 8 MB of its photos, and how many of those are left out. */
export async function packHandover() {
  const [{ device_id }, rows, names] = await Promise.all([getDevice(), listUnsent(), listUnsentPhotos()]);
  const events = rows.map((row) => row.event);
  const made_at = new Date().toISOString();
  const photos = await packPhotos(names);
  const text = JSON.stringify({ format: FORMAT, device_id, made_at, events, definitions: await listDefinitions(events), photos });
  const file = new File([text], `unsent-${made_at.slice(0, 10)}-${events.length}.txt`, { type: FILE_TYPE });
  return { file, n: events.length, photos: photos.length, left: names.length - photos.length };
}

async function packPhotos(names) {
  const photos = [];
  let room = MOST_PHOTO_BYTES;
  for (const name of names) {
    const { sha256, type, bytes } = await findPhoto(name);
    room -= bytes.byteLength;
    if (room < 0) break;
    photos.push({ sha256, type, base64: btoa(Array.from(new Uint8Array(bytes), (byte) => String.fromCharCode(byte)).join("")) });
  }
  return photos;
}

/**
 * Takes in another phone's file: its records are kept beside this phone's own and sent on as they
 * are. Gives {n, known, damaged, photos, left}. Throws an Error with `text_key`, with nothing changed,
 * when the file is not one of ours; a record or photo that is not what was sealed is left out and counted.
 */
export async function takeHandover(file) {
  const data = await file.text().then(JSON.parse).catch(() => null);
  if (data?.format !== FORMAT || ![data.events, data.definitions, data.photos].every(Array.isArray)) {
    throw Object.assign(new Error("not ours"), { text_key: "handover.not_ours" });
  }
  const whole = await keepWhole(data.events, async (event) => typeof event.id === "string" && event.hash === await eventHash(event));
  const n = await takeRelayed(whole);
  for (const compiled of data.definitions) {
    const hash = await hashOf(compiled).catch(() => null);
    if (whole.some((event) => event.checklist_hash === hash)) await keepChecklist(hash, compiled);
  }
  let photos = 0;
  const here = await keepWhole(data.photos, async ({ sha256, type, base64 }) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0)).buffer;
    if (sha256 !== await browserSources.digest(bytes)) return false;
    if (await findPhoto(sha256)) return true;
    await savePhoto(bytes, { type });
    photos += 1;
    return true;
  });
  return { n, known: whole.length - n, damaged: data.events.length - whole.length, photos, left: data.photos.length - here.length };
}

// Limits have fractions, which an event never has; both languages write those of a checklist alike.
const hashOf = (compiled) => browserSources.digest(new TextEncoder().encode(canonicalJson(compiled, Number.isFinite)));

/** Those for which `check` holds; one that it stumbles over is not whole. */
async function keepWhole(items, check) {
  const held = [];
  for (const item of items) if (await check(item).catch(() => false)) held.push(item);
  return held;
}
