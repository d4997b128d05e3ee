// Unsent work as a file, for where no call gets through: a copy, it marks nothing as sent.
import { browserSources, canonicalJson, eventHash } from "../inspection/event.js";
import { getDevice } from "../store/device.js";
import { keepChecklist } from "../store/local_db.js";
import { takeRelayed } from "../store/outbox.js";
import { findPhoto, listUnsentPhotos, savePhoto } from "../store/photos.js";
import { listUnsent } from "../store/records.js";
import { getSigningKey, signRows } from "../store/signing_key.js";
import { listDefinitions, listDrawings } from "./definitions.js";

const FORMAT = "records/1";
const MAX_PHOTO_BYTES = 8_000_000;
const FILE_TYPE = "application/octet-stream";

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
    signatures: await signRows(rows, await getSigningKey()),
    definitions: await listDefinitions(events),
    drawings: await listDrawings(events),
    photos,
  });
  const file = new File([text], `unsent-${made_at.slice(0, 10)}-${events.length}.qcrecords`, {
    type: FILE_TYPE,
  });
  return { file, n: events.length, photos: photos.length, left: names.length - photos.length };
}

/** @param {ArrayBuffer} bytes */
const toBase64 = (bytes) =>
  btoa(Array.from(new Uint8Array(bytes), (byte) => String.fromCharCode(byte)).join(""));

/** @param {string} text */
const fromBase64 = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;

/** @param {string[]} names */
async function exportPhotos(names) {
  const photos = [];
  let room = MAX_PHOTO_BYTES;
  for (const name of names) {
    const photo = await findPhoto(name);
    if (!photo?.bytes) continue;
    room -= photo.bytes.byteLength;
    if (room < 0) break;
    const { sha256, type, bytes } = photo;
    photos.push({ sha256, type, base64: toBase64(bytes) });
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
  const data = await readFile(file);
  const intact = await filterIntact(listSigned(data), ({ event }) => isSealed(event));
  const n = await takeRelayed(intact);
  await keepDefinitions(data.definitions, intact);
  const { here, added } = await importPhotos(data.photos);
  return {
    n,
    known: intact.length - n,
    damaged: data.events.length - intact.length,
    photos: added,
    left: data.photos.length - here,
  };
}

/** @param {Blob} file */
async function readFile(file) {
  const data = await file
    .text()
    .then(JSON.parse)
    .catch(() => null);
  const lists = [data?.events, data?.definitions, data?.photos];
  if (data?.format !== FORMAT || !lists.every(Array.isArray))
    throw Object.assign(new Error("not ours"), { text_key: "export.not_ours" });
  return data;
}

/**
 * Each event with its signature; a phone that has no key writes none.
 * @param {{events: SealedEvent[], signatures?: unknown}} data
 * @returns {SignedEvent[]}
 */
function listSigned({ events, signatures }) {
  const given = Array.isArray(signatures) ? signatures : [];
  return events.map((event, at) => ({
    event,
    signature: typeof given[at] === "string" ? given[at] : undefined,
  }));
}

/** @param {SealedEvent} event */
const isSealed = async (event) =>
  typeof event.id === "string" && event.hash === (await eventHash(event));

/**
 * Only the checklists that a record names.
 * @param {Checklist[]} definitions
 * @param {SignedEvent[]} sealed
 */
async function keepDefinitions(definitions, sealed) {
  for (const compiled of definitions) {
    const hash = await hashOf(compiled).catch(() => null);
    if (hash && sealed.some(({ event }) => event.checklist_hash === hash))
      await keepChecklist(hash, compiled);
  }
}

/** @param {any[]} photos */
async function importPhotos(photos) {
  let added = 0;
  const here = await filterIntact(photos, async ({ sha256, type, base64 }) => {
    const bytes = fromBase64(base64);
    if (sha256 !== (await browserSources.digest(bytes))) return false;
    if (await findPhoto(sha256)) return true;
    await savePhoto(bytes, { type });
    added += 1;
    return true;
  });
  return { here: here.length, added };
}

/**
 * Limits have fractions, which an event never has; both languages write those of a checklist alike.
 * @param {Checklist} compiled
 */
const hashOf = async (compiled) =>
  browserSources.digest(new TextEncoder().encode(canonicalJson(compiled, Number.isFinite)));

/**
 * Those for which `check` holds; one that it fails on is not intact.
 * @param {any[]} items
 * @param {(item: any) => Promise<boolean>} check
 */
async function filterIntact(items, check) {
  const held = [];
  for (const item of items) if (await check(item).catch(() => false)) held.push(item);
  return held;
}
