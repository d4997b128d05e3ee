// Unsent work as a file, for where no call gets through: a copy, it marks nothing as sent.
import { browserSources, canonicalJson, eventHash } from "../inspection/event.js";
import { getDevice } from "../store/device.js";
import { keepChecklist } from "../store/local_db.js";
import { takeRelayed } from "../store/outbox.js";
import { findPhoto, listUnsentPhotos, savePhoto } from "../store/photos.js";
import { listUnsent } from "../store/records.js";
import { listDefinitions } from "./definitions.js";

const FORMAT = "handover/1";
const MAX_PHOTO_BYTES = 8_000_000;
// Browsers share only files of some types; plain text is among them, JSON is not.
const FILE_TYPE = "text/plain";

/**
 * {file, n, photos, left}: every unsent record, 8 MB of its photos, and how many of those are left
 * out.
 */
export async function buildExportFile() {
  const [{ device_id }, rows, names] = await Promise.all([
    getDevice(),
    listUnsent(),
    listUnsentPhotos(),
  ]);
  const events = rows.map((row) => row.event);
  const made_at = new Date().toISOString();
  const photos = await exportPhotos(names);
  const text = JSON.stringify({
    format: FORMAT,
    device_id,
    made_at,
    events,
    definitions: await listDefinitions(events),
    photos,
  });
  const file = new File([text], `unsent-${made_at.slice(0, 10)}-${events.length}.txt`, {
    type: FILE_TYPE,
  });
  return { file, n: events.length, photos: photos.length, left: names.length - photos.length };
}

/** @param {string[]} names */
async function exportPhotos(names) {
  const photos = [];
  let room = MAX_PHOTO_BYTES;
  for (const name of names) {
    const { sha256, type, bytes } = await findPhoto(name);
    room -= bytes.byteLength;
    if (room < 0) break;
    photos.push({
      sha256,
      type,
      base64: btoa(Array.from(new Uint8Array(bytes), (byte) => String.fromCharCode(byte)).join("")),
    });
  }
  return photos;
}

/**
 * Takes in another phone's file: its records are kept beside this phone's own and sent on as they
 * are. Gives {n, known, damaged, photos, left}. Throws an Error with `text_key`, with nothing
 * changed, when the file is not one of ours; a record or photo that is not what was sealed is left
 * out and counted.
 * @param {Blob} file
 */
export async function importFile(file) {
  const data = await file
    .text()
    .then(JSON.parse)
    .catch(() => null);
  if (
    data?.format !== FORMAT ||
    ![data.events, data.definitions, data.photos].every(Array.isArray)
  ) {
    throw Object.assign(new Error("not ours"), { text_key: "export.not_ours" });
  }
  const whole = await filterIntact(
    data.events,
    async (event) => typeof event.id === "string" && event.hash === (await eventHash(event)),
  );
  const n = await takeRelayed(whole);
  for (const compiled of data.definitions) {
    const hash = await hashOf(compiled).catch(() => null);
    if (whole.some((event) => event.checklist_hash === hash)) await keepChecklist(hash, compiled);
  }
  let photos = 0;
  const here = await filterIntact(data.photos, async ({ sha256, type, base64 }) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0)).buffer;
    if (sha256 !== (await browserSources.digest(bytes))) return false;
    if (await findPhoto(sha256)) return true;
    await savePhoto(bytes, { type });
    photos += 1;
    return true;
  });
  return {
    n,
    known: whole.length - n,
    damaged: data.events.length - whole.length,
    photos,
    left: data.photos.length - here.length,
  };
}

// Limits have fractions, which an event never has; both languages write those of a checklist alike.
/** @param {Checklist} compiled */
const hashOf = async (compiled) =>
  browserSources.digest(new TextEncoder().encode(canonicalJson(compiled, Number.isFinite)));

/**
 * Those for which `check` holds; one that it stumbles over is not whole.
 * @param {any[]} items
 * @param {(item: any) => Promise<boolean>} check
 */
async function filterIntact(items, check) {
  const held = [];
  for (const item of items) if (await check(item).catch(() => false)) held.push(item);
  return held;
}
