// Photos: as ArrayBuffer, because some browsers lose Blobs; named by the SHA-256 of the bytes.
// A row is {sha256, type, bytes?, thumb?, state, saved_at, sent_at?, reason?}; state: unsent, sent,
// refused (the server said why; the phone keeps it) or pruned (sent long ago, only the thumb is
// left).
import { browserSources } from "../inspection/event.js";
import { STRICT, ask, withStores } from "./db.js";
import { DAY_MS, isFull, withRoomToSend, withSpareSpace } from "./free_space.js";
import { shrinkPhoto } from "./picture.js";

const MAX_UNSENT_PHOTO_BYTES = 60_000_000;
export const PHOTO_TYPE = "image/jpeg";
const PHOTO_PX = 1024;
const FAULT_PHOTO_PX = 1280;

/**
 * Keeps a photo and gives its name. A picture from the camera (a Blob) is made small first; an
 * ArrayBuffer is final. Throws "PhotosFull" above 60 MB waiting to be sent.
 * @param {Blob | ArrayBuffer} photo
 * @param {{type?: string, is_fault?: boolean}} [options]
 */
export async function savePhoto(photo, { type = PHOTO_TYPE, is_fault = true } = {}) {
  const isFinal = photo instanceof ArrayBuffer;
  const made = isFinal
    ? { bytes: photo }
    : await shrinkPhoto(photo, is_fault ? FAULT_PHOTO_PX : PHOTO_PX);
  const sha256 = await browserSources.digest(made.bytes);
  await withSpareSpace(() =>
    withStores(
      ["photos", "meta"],
      "readwrite",
      async ({ photos, meta }) => {
        if (await ask(photos.getKey(sha256))) return;
        if ((await addWaitingBytes(meta, made.bytes.byteLength)) > MAX_UNSENT_PHOTO_BYTES) {
          throw new DOMException("", "PhotosFull");
        }
        photos.put({ sha256, type, ...made, state: "unsent", saved_at: new Date().toISOString() });
      },
      STRICT,
    ),
  );
  return sha256;
}

/**
 * Our own count: what the browser says of free room is not to be trusted on a full phone.
 * @param {IDBObjectStore} meta
 * @param {number} change
 */
async function addWaitingBytes(meta, change) {
  const waiting = Math.max(0, ((await ask(meta.get("unsent_photo_bytes"))) ?? 0) + change);
  meta.put(waiting, "unsent_photo_bytes");
  return waiting;
}

/**
 * The row of a photo, or undefined.
 * @param {string} sha256
 * @returns {Promise<Photo | undefined>}
 */
export function findPhoto(sha256) {
  return withStores(["photos"], "readonly", ({ photos }) => ask(photos.get(sha256)));
}

/**
 * @param {IDBObjectStore} photos
 * @returns {IDBRequest<any[]>}
 */
const unsentNames = (photos) => photos.index("state").getAllKeys("unsent");

/**
 * Names of the photos that a record mentions and the server has not got: faults first, then the
 * newest.
 * @returns {Promise<string[]>}
 */
export function listUnsentPhotos() {
  return withStores(["photos", "events"], "readonly", async ({ photos, events }) => {
    const names = await ask(unsentNames(photos));
    const rows = await Promise.all(names.map((name) => ask(events.index("photo").get(name))));
    // Ids of records begin with their time.
    const ranked = names
      .map((name, at) => rows[at] && { name, rank: showsFault(rows[at].event, name) + rows[at].id })
      .filter(Boolean);
    return ranked.sort((one, other) => (one.rank < other.rank ? 1 : -1)).map(({ name }) => name);
  });
}

/**
 * @param {SealedEvent} event
 * @param {string} name
 */
function showsFault({ body }, name) {
  const answers = Object.values((body.replacement ?? body).answers ?? {});
  return answers.some((answer) => answer.fault && answer.photos?.includes(name)) ? 1 : 0;
}

/**
 * What the server said of a photo: it has it, or (`reason`) it will not take it.
 * @param {string} sha256
 * @param {StoredReason} [reason]
 */
export async function settlePhoto(sha256, reason) {
  try {
    await withRoomToSend(() => putSettled(sha256, reason));
  } catch (error) {
    if (!isFull(error)) throw error;
    // The server has it; one that it refused stays, unmarked, and is offered again.
    if (!reason) await dropStored(sha256);
  }
}

/**
 * @param {string} sha256
 * @param {StoredReason} [reason]
 */
function putSettled(sha256, reason) {
  return withStores(["photos", "meta"], "readwrite", async ({ photos, meta }) => {
    const photo = await ask(photos.get(sha256));
    if (photo?.state !== "unsent") return;
    if (reason) return photos.put({ ...photo, state: "refused", reason });
    photos.put({ ...photo, state: "sent", sent_at: new Date().toISOString() });
    await addWaitingBytes(meta, -photo.bytes.byteLength);
  });
}

/** @param {string} sha256 */
async function dropStored(sha256) {
  const bytes = (await findPhoto(sha256))?.bytes?.byteLength ?? 0;
  await withStores(["photos"], "readwrite", ({ photos }) => ask(photos.delete(sha256)));
  await withStores(["meta"], "readwrite", ({ meta }) => addWaitingBytes(meta, -bytes));
}

/** Photos that the server refused are offered once more. */
export function offerRefusedPhotos() {
  return withStores(["photos"], "readwrite", async ({ photos }) => {
    for (const name of await ask(photos.index("state").getAllKeys("refused"))) {
      const { reason: _, ...photo } = await ask(photos.get(name));
      photos.put({ ...photo, state: "unsent" });
    }
  });
}

/**
 * Drops unsent photos that neither a record nor a draft names: those of a discarded draft
 * (`names`), else every one older than a day, which no screen can still be about to use.
 * @param {string[]} [names]
 * @param {string} [before]
 */
export function dropLoosePhotos(names, before = new Date(Date.now() - DAY_MS).toISOString()) {
  return withStores(
    ["photos", "events", "drafts", "meta"],
    "readwrite",
    async ({ photos, events, drafts, meta }) => {
      const drafted = JSON.stringify(await ask(drafts.getAll()));
      for (const name of names ?? (await ask(unsentNames(photos)))) {
        if (drafted.includes(name) || (await ask(events.index("photo").getKey(name)))) continue;
        const photo = await ask(photos.get(name));
        if (photo?.state !== "unsent" || (!names && photo.saved_at > before)) continue;
        photos.delete(name);
        await addWaitingBytes(meta, -photo.bytes.byteLength);
      }
    },
  );
}
