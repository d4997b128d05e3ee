/**
 * One stove: its records, each sealed once with an id, a time and a hash made on the phone, and the
 * state they add up to. Twin of qcapp/inspection/event.py, stove.py and serial.py; the rules are tests/vectors/event/,
 * fold/ and serial/.
 */
import { OUTER_SPACES } from "./judge.js";

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

/** Where time, chance and SHA-256 come from in the browser; tests give their own. */
export const browserSources = {
  now: () => Date.now(),
  random: (count) => crypto.getRandomValues(new Uint8Array(count)),
  digest: async (bytes) => toHex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes))),
};

export function toHex(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Canonical JSON (RFC 8785) of strings, whole numbers, booleans, null, arrays and plain objects.
 * Throws on anything else, on fractions (languages write them differently; the RFC's way is this
 * language's own, so `isNumber` may let them in) and half characters.
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

function canonicalText(text) {
  if (/\p{Surrogate}/u.test(text)) throw new TypeError("no canonical JSON for a half character");
  return JSON.stringify(text);
}

/** SHA-256, lower-case hex, of the canonical JSON of an event without its "hash". */
export function eventHash(event, digest = browserSources.digest) {
  const { hash: _, ...content } = event;
  return digest(new TextEncoder().encode(canonicalJson(content)));
}

/**
 * UUID version 7 (RFC 9562 section 5.7): 48 bits of milliseconds, the rest from `randomBytes`
 * (10 of them). Only an identity: nothing sorts by it, so a wrong clock does no harm.
 */
export function uuid7(nowMs, randomBytes) {
  const time = Math.max(0, Math.floor(nowMs)).toString(16).padStart(12, "0");
  const bytes = Uint8Array.from(randomBytes);
  bytes[0] = 0x70 | (bytes[0] & 0x0f);
  bytes[2] = 0x80 | (bytes[2] & 0x3f);
  return (time + toHex(bytes)).replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

/**
 * The finished event of `fields` (kind, device_id, dev_seq, inspector, app_build, body ...).
 * Adds id, captured_at, tz_min (minutes east of UTC) and hash. Half characters, which a cut-off
 * emoji leaves behind, become U+FFFD: a note must never keep a record from being saved.
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

/** The name under which a stove's events of one stage are kept together. */
export function stoveKey(stage, stove) {
  return `${stage}/${stove}`;
}

// --- Codes and serials with a check character; on a tag it stands behind a point, records hold the serial plain

/** ISO/IEC 7064 MOD 37,36 over 0-9 A-Z: whether the last sign fits the others. Twin of qcapp/inspection/check_character.py. */
export function hasCheckCharacter(code) {
  if (!/^[0-9A-Z]{2,}$/i.test(code)) return false;
  let carry = 36;
  for (const sign of code.slice(0, -1))
    carry = (((carry + parseInt(sign, 36)) % 36 || 36) * 2) % 37;
  return (carry + parseInt(code.slice(-1), 36)) % 36 === 1;
}

/** The plain serial that a typed text means, or null: in a batch with checked serials the sign must fit, in any case of letters. */
export function readSerial(typed, { serial_prefix, attributes }) {
  const text = typed.replace(OUTER_SPACES, "");
  if (!/^(?:[^\p{C}\p{Z}]| ){1,40}$/u.test(text)) return null;
  if (attributes.checked_serials !== true) return text;
  const [, serial, check] = text.match(/^(.*[^ ]) *\. *(.)$/) ?? [null, "", ""];
  const plain = serial_prefix + serial.slice(serial_prefix.length);
  const fits =
    plain.toUpperCase() === serial.toUpperCase() &&
    hasCheckCharacter(plain.replace(/[-/_ ]/g, "") + check);
  return fits ? plain : null;
}

/** Next free serial: prefix and the highest number so far plus one, at least three digits. */
export function proposeSerial(prefix, stoves) {
  const numbers = stoves
    .filter((stove) => stove.startsWith(prefix))
    .map((stove) => stove.slice(prefix.length))
    .filter((rest) => /^[0-9]{1,9}$/.test(rest))
    .map(Number);
  return prefix + String(Math.max(0, ...numbers) + 1).padStart(3, "0");
}

// --- The state of one stove: a pure fold over its events

// The id is last only so that the order is total, whatever came in.
const CAPTURE_ORDER = ["captured_at", "device_id", "dev_seq", "id"];

/**
 * State of one stove after `events` (in the log's order, unsent ones last).
 * An event may come before the one it corrects; only the order of corrections of one inspection
 * among themselves matters: the later one wins. Corrections of a correction, and voids, lead back
 * to the inspection at the root. What leads to no known inspection waits.
 * What people decided about quarantined records comes first.
 * @returns {{inspections: object[], disposition: string|null, corrected_twice: boolean}}
 */
export function foldStove(events) {
  const byId = applyQuarantineDecisions(events);
  const corrections = new Map();
  const voided = new Set();
  for (const event of byId.values()) {
    const rootId = findRootId(event, byId);
    if (rootId === null) continue;
    if (event.kind === "void") voided.add(rootId);
    else corrections.set(rootId, [...(corrections.get(rootId) ?? []), event]);
  }
  const inspections = [...byId.values()]
    .filter((event) => event.kind === "inspection" && !voided.has(event.id))
    .sort(compareCapture)
    .map((root) => buildEffective(root, corrections.get(root.id) ?? []));
  return {
    inspections,
    disposition: inspections.at(-1)?.body.disposition.kind ?? null,
    corrected_twice: inspections.some((inspection) => inspection.corrected > 1),
  };
}

/**
 * {id: event} as it counts after every quarantine decision, in order; those themselves left out.
 * A decision is about one content (`original_hash`) under an id, and the latest one about it
 * stands. An accepted content (`body.event`) counts under its id from the place of its
 * decision, the latest of several; a rejected content does not count; else the first one does.
 */
function applyQuarantineDecisions(events) {
  const decisions = new Map();
  for (const event of events.filter(({ kind }) => kind === "quarantine_decision")) {
    const target = `${event.corrects} ${event.body.original_hash}`;
    // A later decision also takes the later place.
    decisions.delete(target);
    decisions.set(target, event);
  }
  const accepted = new Map(
    [...decisions.values()]
      .filter(({ body }) => body.action === "accept")
      .map((event) => [event.corrects, event.id]),
  );
  const byId = new Map();
  for (const event of events) {
    const { id, hash, kind, corrects, body } = event;
    if (kind === "quarantine_decision") {
      if (accepted.get(corrects) === id) byId.set(corrects, body.event);
    } else if (!accepted.has(id) && !decisions.has(`${id} ${hash}`) && !byId.has(id))
      byId.set(id, event);
  }
  return byId;
}

function findRootId(event, byId) {
  if (event.kind !== "correction" && event.kind !== "void") return null;
  const seen = new Set();
  let target = byId.get(event.corrects);
  while (target?.kind === "correction" && !seen.has(target.id)) {
    seen.add(target.id);
    target = byId.get(target.corrects);
  }
  return target?.kind === "inspection" ? target.id : null;
}

function compareCapture(one, other) {
  for (const key of CAPTURE_ORDER) {
    if (one[key] !== other[key]) return one[key] < other[key] ? -1 : 1;
  }
  return 0;
}

/** The inspection as it counts now: who, when and what for stay, the body is the last one. */
function buildEffective(root, corrections) {
  const { id, captured_at, inspector, device_id, batch, checklist_hash } = root;
  return {
    id,
    captured_at,
    inspector,
    device_id,
    batch,
    checklist_hash,
    body: corrections.length > 0 ? corrections.at(-1).body.replacement : root.body,
    corrected: corrections.length,
    photos: [...new Set([root, ...corrections].flatMap((event) => event.photos))],
  };
}
