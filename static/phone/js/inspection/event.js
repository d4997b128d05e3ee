// A record: sealed once with an id, a time and a hash made on the phone. Twin of
// qcapp/inspection/event.py; the rule is tests/vectors/event/.
import { serialKey } from "./serial.js";

const ABSENT = {
  batch: null,
  stage: null,
  stove: null,
  checklist: null,
  checklist_hash: null,
  body: {},
  photos: [],
  corrects: null,
};

/**
 * Where time, chance and SHA-256 come from in the browser; tests give their own.
 * @type {EventSources}
 */
export const browserSources = {
  now: () => Date.now(),
  random: (count) => crypto.getRandomValues(new Uint8Array(count)),
  digest: async (bytes) => toHex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes))),
};

/** @param {Uint8Array} bytes */
export function toHex(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Canonical JSON (RFC 8785) of strings, whole numbers, booleans, null, arrays and plain objects.
 * Throws on anything else, on fractions (languages write them differently; the RFC's way is this
 * language's own, so `isNumber` may let them in) and half characters.
 * @param {any} value
 * @param {(value: unknown) => boolean} [isNumber]
 * @returns {string}
 */
export function canonicalJson(value, isNumber = Number.isSafeInteger) {
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "string") return canonicalText(value);
  if (isNumber(value)) return String(value);
  if (Array.isArray(value))
    return `[${value.map((item) => canonicalJson(item, isNumber)).join(",")}]`;
  if (typeof value !== "object") throw new TypeError(`no canonical JSON for ${String(value)}`);
  // sort() without a comparison orders by UTF-16 code units, as the RFC asks.
  const members = Object.keys(value)
    .sort()
    .map((key) => `${canonicalText(key)}:${canonicalJson(value[key], isNumber)}`);
  return `{${members.join(",")}}`;
}

/** @param {string} text */
function canonicalText(text) {
  if (/\p{Surrogate}/u.test(text)) throw new TypeError("no canonical JSON for a half character");
  return JSON.stringify(text);
}

/**
 * SHA-256, lower-case hex, of the canonical JSON of an event without its "hash".
 * @param {Partial<SealedEvent>} event
 * @param {EventSources["digest"]} [digest]
 */
export function eventHash(event, digest = browserSources.digest) {
  const { hash: _, ...content } = event;
  return digest(new TextEncoder().encode(canonicalJson(content)));
}

/**
 * UUID version 7 (RFC 9562 section 5.7): 48 bits of milliseconds, the rest from `randomBytes` (10
 * of them). Only an identity: nothing sorts by it, so a wrong clock does no harm.
 * @param {number} nowMs
 * @param {Iterable<number>} randomBytes
 */
export function uuid7(nowMs, randomBytes) {
  const time = Math.max(0, Math.floor(nowMs)).toString(16).padStart(12, "0");
  const bytes = Uint8Array.from(randomBytes);
  bytes[0] = 0x70 | (bytes[0] & 0x0f);
  bytes[2] = 0x80 | (bytes[2] & 0x3f);
  return (time + toHex(bytes)).replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

/**
 * The finished event of `fields` (kind, device_id, dev_seq, inspector, app_build, body ...). Adds
 * id, captured_at, tz_min (minutes east of UTC) and hash. Half characters, which a cut-off emoji
 * leaves behind, become U+FFFD: a note must never keep a record from being saved.
 * @param {EventFields & {device_id: string, dev_seq: number, app_build?: string}} fields
 * @param {EventSources} sources
 * @returns {Promise<SealedEvent>}
 */
export async function sealEvent(fields, { now, random, digest } = browserSources) {
  const nowMs = now();
  const content = JSON.parse(
    JSON.stringify({
      ...ABSENT,
      id: uuid7(nowMs, random(10)),
      captured_at: new Date(nowMs).toISOString(),
      tz_min: 0 - new Date(nowMs).getTimezoneOffset(),
      ...fields,
    }),
    (_, value) => (typeof value === "string" ? value.replace(/\p{Surrogate}/gu, "\ufffd") : value),
  );
  return { ...content, hash: await eventHash(content, digest) };
}

/**
 * The name under which a stove's events of one stage are kept together, however its serial was
 * typed.
 * @param {string} stage
 * @param {string} stove
 */
export function stoveKey(stage, stove) {
  return `${stage}/${serialKey(stove)}`;
}

/**
 * Stage and serial as typed of a stove that is named by both: "finished/b1-007".
 * @param {string} written
 */
export function splitKey(written) {
  const [stage, ...rest] = written.split("/");
  return { stage, stove: rest.join("/") };
}

/**
 * The key of a stove that is named so.
 * @param {string} written
 */
export function normalizeStoveKey(written) {
  const { stage, stove } = splitKey(written);
  return stoveKey(stage, stove);
}
