// Records: sealed, kept, sent once, never edited. A record is saved when its transaction is
// complete, and is waiting until the server has named it in an answer. Origins: own; relay (taken
// from another phone's file, to be sent on); other (pulled from the server).
import { sealEvent, stoveKey } from "../inspection/event.js";
import { STRICT, ask, withStores } from "./db.js";
import { getDevice, markLoss, noteCounts, startDevice } from "./device.js";
import { withFreeSpace } from "./free_space.js";
import { getMeta, readKeys } from "./local_db.js";

const MAX_TRIES = 20;
const BUILD = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "source";

// State of what waits, by origin: two words, so that both can be counted without reading rows.
/** @type {{own: "unsent", relay: "relay", other?: undefined}} */
export const WAITING = { own: "unsent", relay: "relay" };

/** @param {Pick<EventRow, "state" | "origin"> | undefined} row */
export const isWaiting = (row) => row !== undefined && row.state === WAITING[row.origin];

/** "recorded" when this page has saved one, "synced" when the server changed what is kept. */
export const changes = new EventTarget();

/**
 * Calls `listen` after a record was saved or the server changed something, here or in another tab.
 * @param {() => void} listen
 */
export function onChange(listen) {
  changes.addEventListener("recorded", listen);
  changes.addEventListener("synced", listen);
}

/** Other tabs only paint again; each looks into the shared database itself. */
export function joinTabs() {
  if (typeof BroadcastChannel === "undefined") return;
  const channel = new BroadcastChannel("qcapp");
  let isTold = false;
  channel.onmessage = () => {
    isTold = true;
    changes.dispatchEvent(new Event("synced"));
    isTold = false;
  };
  onChange(() => isTold || channel.postMessage("changed"));
}

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
  // Asked now because a browser is more willing to say yes when there is something to protect.
  navigator.storage?.persist?.().catch(() => {});
  changes.dispatchEvent(new Event("recorded"));
  return event;
}

/**
 * One after the other: over all tabs where the browser has locks, else in this page.
 * @param {() => Promise<SealedEvent>} work
 * @returns {Promise<SealedEvent>}
 */
async function oneAtATime(work) {
  if (navigator.locks) return navigator.locks.request("qcapp-record", work);
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
    const outcome = await withFreeSpace(() => keepSealed(event, device, draftKey));
    lastKept = outcome === "kept" ? next : null;
    if (outcome === "kept") return event;
    if (outcome === "no-device") await startDevice();
  }
  throw new DOMException("", "OtherTabs");
}

/**
 * Sealing cannot run inside a transaction (its digest would end it), so the number is checked
 * again.
 * @param {SealedEvent} event
 * @param {Device} device
 * @param {string} [draftKey]
 */
function keepSealed(event, device, draftKey) {
  return withStores(
    ["meta", "events", "drafts"],
    "readwrite",
    async ({ meta, events, drafts }) => {
      const now = await readKeys(meta, ["device_id", "dev_seq"]);
      if (!now.device_id) return "no-device";
      if (now.device_id !== device.device_id || now.dev_seq !== device.dev_seq) return "taken";
      meta.put(event.dev_seq, "dev_seq");
      events.add({ id: event.id, key: keyOf(event), event, origin: "own", state: "unsent" });
      if (draftKey) drafts.delete(draftKey);
      return "kept";
    },
    STRICT,
  );
}

/**
 * What records are kept together by: the stove at its stage; a look of a study, which is no part
 * of a stove's state, the study.
 * @param {SealedEvent} event
 */
export function keyOf({ kind, stage, stove, body }) {
  if (kind === "study_answer") return body?.study;
  return stage && stove ? stoveKey(stage, stove) : null;
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
      ["events"],
      "readwrite",
      async ({ events }) => {
        let taken = 0;
        for (const { event, signature } of sealed) {
          if (await ask(events.getKey(event.id))) continue;
          events.add({
            id: event.id,
            key: keyOf(event),
            event,
            origin: "relay",
            state: WAITING.relay,
            ...(signature && { signature }),
          });
          taken += 1;
        }
        return taken;
      },
      STRICT,
    ),
  );
}
