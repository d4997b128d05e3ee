// What the phone keeps besides records: who it is, the yard's reference, drafts, photos.
import { browserSources, toHex, uuid7 } from "../inspection/stove.js";
import { ask, STRICT, withRoom, withStores } from "./db.js";

const CANARY = "qcapp.canary";
const MOST_UNSENT_PHOTO_BYTES = 60_000_000;
const DAY_MS = 86_400_000;
const PHOTO_TYPE = "image/jpeg";
const PHOTO_QUALITY = 0.6;
const PHOTO_PX = 1024;
const FAULT_PHOTO_PX = 1280;
const THUMB_PX = 160;
const PIN_ROUNDS = 100_000;

export function getMeta(key) {
  return withStores(["meta"], "readonly", ({ meta }) => ask(meta.get(key)));
}

export function setMeta(key, value) {
  return withStores(["meta"], "readwrite", ({ meta }) => ask(meta.put(value, key)));
}

/** {key: value} of several keys from one transaction; absent keys are undefined. */
export function readMeta(keys) {
  return withStores(["meta"], "readonly", ({ meta }) => readKeys(meta, keys));
}

/** The same inside a transaction of the caller. */
export async function readKeys(meta, keys) {
  const values = await Promise.all(keys.map((key) => ask(meta.get(key))));
  return Object.fromEntries(keys.map((key, index) => [key, values[index]]));
}

// --- PINs keep one from going on in another's name by mistake: they label work and guard nothing.

/** {salt, hash} of a PIN: PBKDF2 (RFC 8018) with SHA-256, 256 bits, lower-case hex. */
export async function hashPin(pin, salt = browserSources.random(16)) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, [
    "deriveBits",
  ]);
  const bits = await crypto.subtle.deriveBits(
    { name: "PBKDF2", hash: "SHA-256", salt, iterations: PIN_ROUNDS },
    key,
    256,
  );
  return { salt, hash: toHex(new Uint8Array(bits)) };
}

// --- This phone. The browser may swap a damaged database for an empty one without an error, so a
// note outside of it (the canary) says what should be there.

let isStarted = false;

/** {device_id, dev_seq} of this phone; makes the id at the first start and after a loss. */
export async function startDevice() {
  // The canary first: it is written after the database, so it can never be ahead of what we read.
  const canary = readCanary();
  const fresh = uuid7(Date.now(), browserSources.random(10));
  const device = await withStores(
    ["meta"],
    "readwrite",
    async ({ meta }) => {
      const { device_id, dev_seq = 0 } = await readKeys(meta, ["device_id", "dev_seq"]);
      const loss = judgeLoss(canary, device_id, dev_seq);
      if (device_id && !loss) return { device_id, dev_seq };
      meta.put(fresh, "device_id");
      meta.put(0, "dev_seq");
      if (loss?.created) meta.put(loss, "loss");
      return { device_id: fresh, dev_seq: 0 };
    },
    STRICT,
  );
  isStarted = true;
  noteCanary({ device_id: device.device_id, created: device.dev_seq });
  return device;
}

/** The same, from what is there already when this page has started the device before. */
export async function getDevice() {
  const device = isStarted && (await readMeta(["device_id", "dev_seq"]));
  return device?.device_id ? device : startDevice();
}

/**
 * What is missing by the canary {device_id, created, acked, last_saved_at}; null when nothing is. A canary
 * of another device id stands beside a database that is empty, or older than a loss before.
 */
export function judgeLoss(canary, device_id, dev_seq) {
  const isSame = canary?.device_id === device_id;
  if (!canary || (isSame && canary.created <= dev_seq)) return null;
  const kept = Math.max(canary.acked ?? 0, isSame ? dev_seq : 0);
  return {
    ...canary,
    lost: Math.max(0, canary.created - kept),
    is_reported: false,
    is_seen: false,
  };
}

/** {lost: N, last_saved_at, ...} until the inspector has seen it (markLoss), else null. */
export async function findLoss() {
  await getDevice();
  const loss = await getMeta("loss");
  return loss && !loss.is_seen ? loss : null;
}

export function markLoss(change) {
  return withStores(["meta"], "readwrite", async ({ meta }) => {
    const loss = await ask(meta.get("loss"));
    if (loss) meta.put({ ...loss, ...change }, "loss");
  });
}

function readCanary() {
  try {
    return JSON.parse(localStorage.getItem(CANARY));
  } catch {
    return null;
  }
}

/** Writes down counts that are complete in the database; never lowers them for the same phone. */
export function noteCanary(change) {
  const before = readCanary();
  const same = before?.device_id === change.device_id ? before : { created: 0, acked: 0 };
  const created = Math.max(same.created, change.created ?? 0);
  try {
    localStorage.setItem(CANARY, JSON.stringify({ ...same, ...change, created }));
  } catch {
    // No room or not allowed: the phone works on, only without this evidence.
  }
}

// --- Reference: people, batches, checklists, drawings.

/** The yard's reference as the server gave it, undefined before the first contact. */
export function getReference() {
  return withStores(["reference"], "readonly", ({ reference }) => ask(reference.get("current")));
}

/** Keeps every checklist ever seen beside it: a started inspection ends with the one it began with. */
export function saveReference(fresh) {
  return withStores(["reference"], "readwrite", ({ reference }) => {
    reference.put(fresh, "current");
    for (const { hash, compiled } of fresh.checklists) reference.put(compiled, `checklist/${hash}`);
  });
}

/** A checklist that came with another phone's records. */
export function keepChecklist(hash, compiled) {
  return withStores(["reference"], "readwrite", ({ reference }) =>
    ask(reference.put(compiled, `checklist/${hash}`)),
  );
}

/** A compiled checklist by its hash, undefined when this phone never had it. */
export function findChecklist(hash) {
  return withStores(["reference"], "readonly", ({ reference }) =>
    ask(reference.get(`checklist/${hash}`)),
  );
}

// --- Drafts: stored at every tap.

export function saveDraft(draft) {
  return withRoom(() =>
    withStores(["drafts"], "readwrite", ({ drafts }) => ask(drafts.put(draft))),
  );
}

export function findDraft(key) {
  return withStores(["drafts"], "readonly", ({ drafts }) => ask(drafts.get(key)));
}

export function listDrafts() {
  return withStores(["drafts"], "readonly", ({ drafts }) => ask(drafts.getAll()));
}

export function deleteDraft(key) {
  return withStores(["drafts"], "readwrite", ({ drafts }) => ask(drafts.delete(key)));
}

// --- Photos: as ArrayBuffer, because some browsers lose Blobs; named by the SHA-256 of the bytes.
// A row is {sha256, type, bytes?, thumb?, state, saved_at, sent_at?, reason?}; state: unsent, sent,
// refused (the server said why; the phone keeps it) or pruned (sent long ago, only the thumb is left).

/**
 * Keeps a photo and gives its name. A picture from the camera (a Blob) is made small first; an
 * ArrayBuffer is final. Throws "PhotosFull" above 60 MB waiting to be sent.
 */
export async function savePhoto(photo, { type = PHOTO_TYPE, is_fault = true } = {}) {
  const isFinal = photo instanceof ArrayBuffer;
  const made = isFinal
    ? { bytes: photo }
    : await shrinkPhoto(photo, is_fault ? FAULT_PHOTO_PX : PHOTO_PX);
  const sha256 = await browserSources.digest(made.bytes);
  await withStores(
    ["photos", "meta"],
    "readwrite",
    async ({ photos, meta }) => {
      if (await ask(photos.getKey(sha256))) return;
      if ((await addWaitingBytes(meta, made.bytes.byteLength)) > MOST_UNSENT_PHOTO_BYTES) {
        throw new DOMException("", "PhotosFull");
      }
      photos.put({ sha256, type, ...made, state: "unsent", saved_at: new Date().toISOString() });
    },
    STRICT,
  );
  return sha256;
}

/** Our own count: what the browser says of free room is not to be trusted on a full phone. */
async function addWaitingBytes(meta, change) {
  const waiting = Math.max(0, ((await ask(meta.get("unsent_photo_bytes"))) ?? 0) + change);
  meta.put(waiting, "unsent_photo_bytes");
  return waiting;
}

/**
 * {bytes, thumb}: JPEG, upright, longest side at most `longestPx`, and one of about 4 kB. Drawing it
 * anew leaves place and time of the camera (EXIF) behind; decoding straight to the small size
 * spares a phone with little memory.
 */
async function shrinkPhoto(blob, longestPx) {
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

async function drawJpeg(bitmap, longestPx) {
  const scale = Math.min(1, longestPx / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(bitmap.width * scale);
  canvas.height = Math.round(bitmap.height * scale);
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  const jpeg = await new Promise((resolve) => canvas.toBlob(resolve, PHOTO_TYPE, PHOTO_QUALITY));
  if (!jpeg) throw new DOMException("", "NoPicture");
  return jpeg.arrayBuffer();
}

/** The row of a photo, or undefined. */
export function findPhoto(sha256) {
  return withStores(["photos"], "readonly", ({ photos }) => ask(photos.get(sha256)));
}

/** {waiting, refused, bytes}: photos that the server has not got, and how much room they take. */
export function countPhotos() {
  return withStores(["photos", "meta"], "readonly", async ({ photos, meta }) => {
    const [waiting, refused, bytes = 0] = await Promise.all([
      ...["unsent", "refused"].map((state) => ask(photos.index("state").count(state))),
      ask(meta.get("unsent_photo_bytes")),
    ]);
    return { waiting, refused, bytes };
  });
}

/** Names of the photos that a record mentions and the server has not got: faults first, then the newest. */
export function listUnsentPhotos() {
  return withStores(["photos", "events"], "readonly", async ({ photos, events }) => {
    const names = await ask(photos.index("state").getAllKeys("unsent"));
    const rows = await Promise.all(names.map((name) => ask(events.index("photo").get(name))));
    // Ids of records begin with their time.
    const ranked = names
      .map((name, at) => rows[at] && { name, rank: showsFault(rows[at].event, name) + rows[at].id })
      .filter(Boolean);
    return ranked.sort((one, other) => (one.rank < other.rank ? 1 : -1)).map(({ name }) => name);
  });
}

function showsFault({ body }, name) {
  const answers = Object.values((body.replacement ?? body).answers ?? {});
  return answers.some((answer) => answer.fault && answer.photos?.includes(name)) ? 1 : 0;
}

/** What the server said of a photo: it has it, or (`reason`) it will not take it. */
export function settlePhoto(sha256, reason) {
  return withStores(["photos", "meta"], "readwrite", async ({ photos, meta }) => {
    const photo = await ask(photos.get(sha256));
    if (photo?.state !== "unsent") return;
    if (reason) return photos.put({ ...photo, state: "refused", reason });
    photos.put({ ...photo, state: "sent", sent_at: new Date().toISOString() });
    await addWaitingBytes(meta, -photo.bytes.byteLength);
  });
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
 * Drops unsent photos that neither a record nor a draft names: those of a draft thrown away
 * (`names`), else every one older than a day, which no screen can still be about to use.
 */
export function dropLoosePhotos(names, before = new Date(Date.now() - DAY_MS).toISOString()) {
  return withStores(
    ["photos", "events", "drafts", "meta"],
    "readwrite",
    async ({ photos, events, drafts, meta }) => {
      const drafted = JSON.stringify(await ask(drafts.getAll()));
      for (const name of names ?? (await ask(photos.index("state").getAllKeys("unsent")))) {
        if (drafted.includes(name) || (await ask(events.index("photo").getKey(name)))) continue;
        const photo = await ask(photos.get(name));
        if (photo?.state !== "unsent" || (!names && photo.saved_at > before)) continue;
        photos.delete(name);
        await addWaitingBytes(meta, -photo.bytes.byteLength);
      }
    },
  );
}
