// Records: sealed, kept, sent once, never edited. A record is saved when its transaction is
// complete, and is waiting until the server has named it in an answer. Origins: own; relay (taken
// from another phone's file, to be sent on); other (pulled from the server).
import { sealEvent, stoveKey } from "../inspection/event.js";
import { changes } from "./changes.js";
import { STRICT, ask, withStores } from "./db.js";
import { getDevice, markLoss, noteCounts, startDevice } from "./device.js";
import { withFreeSpace } from "./free_space.js";
import { getMeta, readKeys } from "./local_db.js";
import { WAITING } from "./waiting.js";

const MAX_TRIES = 20;
const BUILD = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "source";

/** @type {Promise<unknown>} */
let lastRecord = Promise.resolve();

/**
 * Seals `fields` (kind, inspector, stove, body, photos ...) and keeps the event; resolves with it
 * when it is on the disk. The draft of `draftKey` goes in the same transaction.
 * @param {EventFields} fields
 * @param {{draftKey?: string}} [options]
 * @returns {Promise<SealedEvent>}
 */
export async function record(fields, { draftKey } = {}) {
  const event = await oneAtATime(() => sealAndKeep(fields, draftKey));
  noteCounts({
    device_id: event.device_id,
    created: event.dev_seq,
    last_saved_at: event.captured_at,
  });
  askForProtection();
  changes.dispatchEvent(new Event("recorded"));
  return event;
}

let isProtectionAsked = false;

/** Not before a record: a browser is more willing to say yes when there is something to protect. */
function askForProtection() {
  if (isProtectionAsked) return;
  isProtectionAsked = true;
  navigator.storage?.persist?.().catch(() => {});
}

/**
 * One after the other in this page. Two tabs may meet: then one of them finds its number taken.
 * @param {() => Promise<SealedEvent>} work
 * @returns {Promise<SealedEvent>}
 */
async function oneAtATime(work) {
  const mine = lastRecord.then(work, work);
  lastRecord = mine;
  return mine;
}

/**
 * Where this page's last record left the phone: saves reading it before each record. Another tab or
 * a loss may have moved it on, which keepSealed finds.
 * @type {Device | null}
 */
let lastKept = null;

/**
 * @param {EventFields} fields
 * @param {string} [draftKey]
 */
async function sealAndKeep(fields, draftKey) {
  for (let tries = 0; tries < MAX_TRIES; tries += 1) {
    const device = lastKept ?? (await getDevice());
    const next = { device_id: device.device_id, dev_seq: device.dev_seq + 1 };
    const event = await sealEvent({ app_build: BUILD, ...fields, ...next });
    const misfit = await withFreeSpace(() => keepSealed(event, device, draftKey)).catch((error) =>
      MISFITS.includes(error.name) ? error.name : Promise.reject(error),
    );
    lastKept = misfit ? null : next;
    if (!misfit) return event;
    if (misfit === "NoDevice") await startDevice();
  }
  throw new DOMException("", "OtherTabs");
}

// Why a sealed record does not fit what is kept by now.
const MISFITS = ["NoDevice", "NumberTaken"];

/**
 * Sealing cannot run inside a transaction (its digest would end it), so the number is checked
 * again. Everything is asked for at once, and thrown away by a throw when the check says so: on a
 * cheap phone waiting for it first takes as long as the disk.
 * @param {SealedEvent} event
 * @param {Device} device
 * @param {string} [draftKey]
 */
function keepSealed(event, device, draftKey) {
  return withStores(
    ["meta", "events", "drafts", "stale"],
    "readwrite",
    async ({ meta, events, drafts, stale }) => {
      const check = readKeys(meta, ["device_id", "dev_seq"]);
      meta.put(event.dev_seq, "dev_seq");
      const row = { id: event.id, key: keyOf(event), event, origin: "own", state: WAITING.own };
      events.add(row);
      markStale(stale, row.key);
      if (draftKey) drafts.delete(draftKey);
      const { device_id, dev_seq } = await check;
      if (!device_id) throw new DOMException("", "NoDevice");
      if (device_id !== device.device_id || dev_seq !== device.dev_seq)
        throw new DOMException("", "NumberTaken");
    },
    STRICT,
  );
}

/**
 * What records are kept together by: the stove at its stage; a look of a study, which is no part
 * of a stove's state, the study; the check of a template or gauge, that one; a
 * first piece, its step.
 * @param {SealedEvent} event
 */
export function keyOf({ kind, stage, stove, body }) {
  if (kind === "study_answer") return body?.study;
  if (kind === "gauge_check") return body?.gauge;
  if (kind === "first_piece") return `first-piece/${body?.step}`;
  return stage && stove ? stoveKey(stage, stove) : null;
}

/**
 * What is known of the stove of a record that changed must be folded again (projection.js).
 * @param {IDBObjectStore} stale
 * @param {string | null | undefined} key
 */
export function markStale(stale, key) {
  if (key) stale.put(1, key);
}

/**
 * The same of every stove; only deletes, so that it needs no room.
 * @param {Stores} stores
 */
export function forgetProjection({ stoves, stale, meta }) {
  stoves.clear();
  stale.clear();
  meta.delete("projected");
}

/** What this phone lost goes into the log as a record of its own, once. */
export async function recordLoss() {
  await getDevice();
  const loss = await getMeta("loss");
  if (!loss || loss.is_reported) return;
  const { device_id, created, acked, lost, last_saved_at = null } = loss;
  await record({
    kind: "device_report",
    inspector: "-",
    body: { device_id, created, acked, lost, last_saved_at },
  });
  await markLoss({ is_reported: true });
}

/**
 * Keeps another phone's sealed events, to be sent on as they are with their signatures; gives how
 * many were new here.
 * @param {SignedEvent[]} sealed
 * @returns {Promise<number>}
 */
export function takeRelayed(sealed) {
  return withFreeSpace(() =>
    withStores(
      ["events", "stale"],
      "readwrite",
      async ({ events, stale }) => {
        let taken = 0;
        for (const { event, signature } of sealed) {
          if (await ask(events.getKey(event.id))) continue;
          const row = { id: event.id, key: keyOf(event), event, origin: "relay" };
          events.add({ ...row, state: WAITING.relay, ...(signature && { signature }) });
          markStale(stale, row.key);
          taken += 1;
        }
        return taken;
      },
      STRICT,
    ),
  );
}
