// How work leaves the phone: one call and what its answer means, the pace of calls, photos in pieces,
// and unsent work as a file for where no call gets through (a copy: it marks nothing as sent).
// Whatever does not speak our protocol (a login page of some Wi-Fi, an empty or cut-off answer, a
// redirect) counts as "not connected" and so changes nothing.
import { browserSources, canonicalJson, eventHash } from "../inspection/stove.js";
import * as keep from "../store/local_db.js";
import { listUnsent, takeRelayed } from "../store/outbox.js";

const BASE_TIMEOUT_MS = 20_000;
const BYTES_PER_SECOND = 2000;
const WORTH_GZIP_BYTES = 1000;
const MOST_WAIT_MS = 3_600_000;
export const FIRST_BATCH = 50;
const MOST_BATCH = 100;
const QUICK_MS = 2000;
// Leaves room for definitions and the envelope in the server's 256 KiB.
const MOST_BATCH_BYTES = 196_608;
const PIECE_BYTES = 32_768;
const FORMAT = "records/1";
const MOST_PHOTO_BYTES = 8_000_000;
const BACK_OFF_MS = 2000;
const MOST_BACK_OFF_MS = 900_000;

/** Ends an exchange early; `answer` is what call() gave. */
export class Stop extends Error {
  constructor(answer) {
    super(answer.kind);
    this.answer = answer;
  }
}

/**
 * Calls and classifies. Gives {kind, data?, offset?, ms, timed_out?, wait_ms?, error?}, kind one of
 * ok, not-connected, pair-again, too-large, wait, refused, offset (409 of a photo).
 * @param {{method?, token?, json?, bytes?, headers?, accepts?}} wish `accepts(data)` says whether
 *   the JSON is the answer to this very request; without it the answer has no body.
 */
export async function call(path, wish = {}) {
  const began = performance.now();
  const packed = await packBody(wish);
  const headers = { ...packed.headers, ...wish.headers };
  if (wish.token) headers.Authorization = `Bearer ${wish.token}`;
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), timeoutMs(packed.size));
  try {
    const response = await fetch(path, {
      method: wish.method ?? "GET",
      headers,
      body: packed.body,
      signal: stop.signal,
      redirect: "error",
      cache: "no-store",
      credentials: "omit",
    });
    const text = wish.method === "HEAD" ? "" : await response.text();
    return {
      ...classify(response.status, response.headers, text, wish.accepts),
      ms: performance.now() - began,
    };
  } catch {
    return { kind: "not-connected", timed_out: stop.signal.aborted, ms: performance.now() - began };
  } finally {
    clearTimeout(timer);
  }
}

/** 20 s and a second for every 2 kB sent: a slow network must be able to finish. */
export function timeoutMs(bytes) {
  return BASE_TIMEOUT_MS + (bytes / BYTES_PER_SECOND) * 1000;
}

async function packBody({ json, bytes }) {
  if (bytes)
    return {
      body: bytes,
      size: bytes.byteLength,
      headers: { "Content-Type": "application/octet-stream" },
    };
  if (json === undefined) return { size: 0, headers: {} };
  const plain = new TextEncoder().encode(JSON.stringify(json));
  const headers = { "Content-Type": "application/json" };
  if (plain.byteLength < WORTH_GZIP_BYTES || typeof CompressionStream === "undefined") {
    return { body: plain, size: plain.byteLength, headers };
  }
  const stream = new Blob([plain]).stream().pipeThrough(new CompressionStream("gzip"));
  const body = await new Response(stream).arrayBuffer();
  return { body, size: body.byteLength, headers: { ...headers, "Content-Encoding": "gzip" } };
}

/** What an answer means; pure. `headers` needs only get(name). */
export function classify(status, headers, text, accepts) {
  if (status === 429 || status === 503)
    return { kind: "wait", wait_ms: readRetryAfter(headers.get("Retry-After")) };
  if (status === 413) return { kind: "too-large" };
  const offset = readOffset(headers.get("Upload-Offset"));
  if (!accepts && offset !== null) {
    if (status === 200 || status === 204) return { kind: "ok", offset };
    if (status === 409) return { kind: "offset", offset };
  }
  const data = parseJson(text);
  if (status === 200 && accepts && isObject(data) && accepts(data)) return { kind: "ok", data };
  // Only our own error shape may ask for a new pairing or blame the content.
  const error =
    isObject(data) && isObject(data.error) && typeof data.error.what === "string"
      ? data.error
      : null;
  if (!error || status < 400 || status >= 500)
    return { kind: "not-connected", ...(error && { error }) };
  return { kind: status === 401 ? "pair-again" : "refused", error };
}

function parseJson(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

function readOffset(text) {
  return /^[0-9]{1,12}$/.test(text ?? "") ? Number(text) : null;
}

/** Seconds or a date, as RFC 9110 allows; unreadable or absent means "the usual pause". */
function readRetryAfter(text) {
  if (!text) return null;
  const wait = /^[0-9]+$/.test(text) ? Number(text) * 1000 : Date.parse(text) - Date.now();
  return Number.isFinite(wait) ? Math.min(MOST_WAIT_MS, Math.max(0, wait)) : null;
}

// --- Pace

/** The first rows that fit in a request; one that is too large alone goes alone, to be named. */
export function fillBatch(rows, size, mostBytes = MOST_BATCH_BYTES) {
  const batch = [];
  let bytes = 0;
  for (const row of rows.slice(0, size)) {
    bytes += new TextEncoder().encode(JSON.stringify(row.event)).byteLength;
    if (batch.length > 0 && bytes > mostBytes) break;
    batch.push(row);
  }
  return batch;
}

/** How many records to send next, after `sent` of them got this answer; `size` was the wish. */
export function nextSize(size, sent, { kind, ms, timed_out }) {
  if (kind === "ok") return ms < QUICK_MS ? Math.min(MOST_BATCH, size * 2) : size;
  const isTooMuch = timed_out || kind === "too-large" || kind === "refused";
  return isTooMuch ? Math.max(1, Math.floor(sent / 2)) : size;
}

/** Full jitter: anything up to 2 s, 4 s, 8 s ... 15 min, so that phones do not call in step. */
export function backOffMs(failures, random = Math.random) {
  return random() * Math.min(MOST_BACK_OFF_MS, BACK_OFF_MS * 2 ** failures);
}

/**
 * Whether the server stands in the yard, where a phone that turned to mobile data cannot reach it: a
 * bare number (servers elsewhere have names) or a name of a network's own (RFC 6762, RFC 8375).
 */
export function isNearAddress(hostname) {
  return /^([\d.]+|\[.*|localhost)$|\.(local|lan|home\.arpa)$/.test(hostname);
}

// --- Photos

let isWished = false;

/** The next exchange sends photos whatever the network, and those that the server refused once more. */
export async function wishPhotos() {
  isWished = true;
  await keep.offerRefusedPhotos();
}

/** Whether photos may go by themselves over this network; what is not known may cost money. */
export function isFreeNetwork(connection) {
  return ["wifi", "ethernet"].includes(connection?.type);
}

/** Sends what the server has not got. One that it refuses is kept, marked, and holds up no other. */
export async function sendPhotos(send, isWifiOnly) {
  if (isWifiOnly && !isWished && !isFreeNetwork(navigator.connection)) return;
  for (const name of await keep.listUnsentPhotos()) {
    const photo = await keep.findPhoto(name);
    const { is_whole, reason } = photo
      ? await sendPieces(send, `/api/photos/${name}`, photo.bytes)
      : {};
    if (is_whole || reason) await keep.settlePhoto(name, reason);
  }
  isWished = false;
}

/**
 * Sends bytes in pieces, from where the server has got to; gives {is_whole, reason?}: whether it has
 * all of them, or why it will not take them, as data. `send(path, wish)` is call() or a wrapper of it.
 * Throws Stop when the connection ends.
 */
export async function sendPieces(send, path, bytes) {
  let answer = await send(path, { method: "HEAD" });
  // Twice as many tries as pieces: room for wrong places and for one start from zero.
  for (let left = 2 * Math.ceil(bytes.byteLength / PIECE_BYTES) + 2; left > 0; left -= 1) {
    if (["refused", "too-large"].includes(answer.kind))
      return { is_whole: false, reason: answer.error?.reason ?? { code: "refused", params: {} } };
    if (answer.kind !== "ok" && answer.kind !== "offset") throw new Stop(answer);
    if (answer.offset >= bytes.byteLength) return { is_whole: answer.kind === "ok" };
    const piece = bytes.slice(answer.offset, answer.offset + PIECE_BYTES);
    const headers = {
      "Upload-Length": String(bytes.byteLength),
      "Upload-Offset": String(answer.offset),
    };
    answer = await send(path, { method: "PATCH", bytes: piece, headers });
  }
  return { is_whole: false };
}

// --- By hand

/** Compiled checklists that the events use, those with a `known` hash left out. */
export async function listDefinitions(events, known = []) {
  const hashes = new Set(
    events.map((event) => event.checklist_hash).filter((hash) => hash && !known.includes(hash)),
  );
  return (await Promise.all([...hashes].map(keep.findChecklist))).filter(Boolean);
}

/** {file, n, photos, left}: every unsent record, 8 MB of its photos, and how many of those are left out. */
export async function packExportFile() {
  const [{ device_id }, rows, names] = await Promise.all([
    keep.getDevice(),
    listUnsent(),
    keep.listUnsentPhotos(),
  ]);
  const events = rows.map((row) => row.event);
  const made_at = new Date().toISOString();
  const photos = await packPhotos(names);
  const text = JSON.stringify({
    format: FORMAT,
    device_id,
    made_at,
    events,
    definitions: await listDefinitions(events),
    photos,
  });
  const file = new File([text], `unsent-${made_at.slice(0, 10)}-${events.length}.qcrecords`, {
    type: "text/plain",
  });
  return { file, n: events.length, photos: photos.length, left: names.length - photos.length };
}

async function packPhotos(names) {
  const photos = [];
  let room = MOST_PHOTO_BYTES;
  for (const name of names) {
    const { sha256, type, bytes } = await keep.findPhoto(name);
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
 * are. Gives {n, known, damaged, photos, left}. Throws an Error with `text_key`, with nothing changed,
 * when the file is not one of ours; a record or photo that is not what was sealed is left out and counted.
 */
export async function takeExportFile(file) {
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
  const whole = await keepWhole(
    data.events,
    async (event) => typeof event.id === "string" && event.hash === (await eventHash(event)),
  );
  const n = await takeRelayed(whole);
  for (const compiled of data.definitions) {
    const hash = await hashOf(compiled).catch(() => null);
    if (whole.some((event) => event.checklist_hash === hash))
      await keep.keepChecklist(hash, compiled);
  }
  let photos = 0;
  const here = await keepWhole(data.photos, async ({ sha256, type, base64 }) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0)).buffer;
    if (sha256 !== (await browserSources.digest(bytes))) return false;
    if (await keep.findPhoto(sha256)) return true;
    await keep.savePhoto(bytes, { type });
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
const hashOf = async (compiled) =>
  browserSources.digest(new TextEncoder().encode(canonicalJson(compiled, Number.isFinite)));

/** Those for which `check` holds; one that it stumbles over is not whole. */
async function keepWhole(items, check) {
  const held = [];
  for (const item of items) if (await check(item).catch(() => false)) held.push(item);
  return held;
}
