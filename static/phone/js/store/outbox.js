// Records: sealed, kept, sent once, never edited. A record is saved when its transaction is
// complete, and is waiting until the server has named it in an answer. Origins: own; relay (taken
// from another phone's file, to be sent on); other (pulled from the server).
import { sealEvent, stoveKey } from "../inspection/stove.js";
import { ask, eachRow, STRICT, withRoom, withStores } from "./db.js";
import * as keep from "./local_db.js";

// Acknowledged records stay here so that this phone can heal a server restored from a backup.
const KEPT_DAYS = 90;
const KEPT_RECORDS = 5000;
const MOST_TRIES = 20;
const FINAL_STATES = new Map([
  ["created", "sent"],
  ["duplicate", "sent"],
  ["quarantined", "shown"],
  ["conflict", "shown"],
]);
const COUNTING = ["counted", "created", "duplicate"];
const BUILD = /\/static\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "source";

// State of what waits, by origin: two words, so that both can be counted without reading rows.
const WAITING = { own: "unsent", relay: "relay" };
const isWaiting = (row) => Boolean(row) && row.state === WAITING[row.origin];

let lastTurn = Promise.resolve();

/** "recorded" when this page has saved one, "synced" when the server changed what is kept. */
export const changes = new EventTarget();

/** Calls `listen` after a record was saved or the server changed something, here or in another tab. */
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

/**
 * Seals `fields` (kind, inspector, stove, body, photos ...) and keeps the event; resolves with it
 * when it is on the disk. The draft of `draftKey` goes in the same transaction.
 */
export async function record(fields, { draftKey } = {}) {
  const event = await inTurn(() => sealAndKeep(fields, draftKey));
  keep.noteCanary({
    device_id: event.device_id,
    created: event.dev_seq,
    last_saved_at: event.captured_at,
  });
  // Asked now because a browser is more willing to say yes when there is something to protect.
  navigator.storage?.persist?.().catch(() => {});
  changes.dispatchEvent(new Event("recorded"));
  return event;
}

/** One after the other: over all tabs where the browser has locks, else in this page. */
function inTurn(work) {
  if (navigator.locks) return navigator.locks.request("qcapp-record", work);
  lastTurn = lastTurn.then(work, work);
  return lastTurn;
}

async function sealAndKeep(fields, draftKey) {
  for (let tries = 0; tries < MOST_TRIES; tries += 1) {
    const device = await keep.getDevice();
    const next = { device_id: device.device_id, dev_seq: device.dev_seq + 1 };
    const event = await sealEvent({ app_build: BUILD, ...fields, ...next });
    const outcome = await withRoom(() => keepSealed(event, device, draftKey));
    if (outcome === "kept") return event;
    if (outcome === "no-device") await keep.startDevice();
  }
  throw new DOMException("", "OtherTabs");
}

/** Sealing cannot run inside a transaction (its digest would end it), so the number is checked again. */
function keepSealed(event, device, draftKey) {
  return withStores(
    ["meta", "events", "drafts"],
    "readwrite",
    async ({ meta, events, drafts }) => {
      const now = await keep.readKeys(meta, ["device_id", "dev_seq"]);
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

/** What records are kept together by: the stove at its stage; a look of a study, which is no part of a stove's state, the study. */
function keyOf({ kind, stage, stove, body }) {
  if (kind === "study_answer") return body?.study;
  return stage && stove ? stoveKey(stage, stove) : null;
}

/** What this phone lost goes into the log as a record of its own, once. */
export async function recordLoss() {
  await keep.getDevice();
  const loss = await keep.getMeta("loss");
  if (!loss || loss.is_reported) return;
  const { device_id, created, acked, lost, last_saved_at = null } = loss;
  await record({
    kind: "device_report",
    inspector: "-",
    body: { device_id, created, acked, lost, last_saved_at },
  });
  await keep.markLoss({ is_reported: true });
}

// --- Reading

const countState = (state) =>
  withStores(["events"], "readonly", ({ events }) => ask(events.index("state").count(state)));

/** Records made on this phone that the server has not named. */
export const countUnsent = () => countState(WAITING.own);

/** Records of other phones that this one took from a file and that the server has not named. */
export const countRelayed = () => countState(WAITING.relay);

/** Records made on this phone since it got its id, sent or not. */
export async function countRecords() {
  return (await keep.getDevice()).dev_seq;
}

/**
 * Rows {id, key, event, origin, state, outcome?, reason?, seq?} of one stove in the log's order,
 * those not sent yet last. What another phone made counts here only when the server lets it count.
 */
export async function listEvents(key) {
  return (await listEventsOf([key]))[0];
}

/** The same of several stoves, in one transaction: a list of rows for each key. */
export async function listEventsOf(keys) {
  const stoves = await withStores(["events"], "readonly", ({ events }) =>
    Promise.all(keys.map((key) => ask(events.index("key").getAll(key)))),
  );
  return stoves.map((rows) =>
    rows.filter((row) => row.origin === "own" || COUNTING.includes(row.outcome)).sort(compareRows),
  );
}

function compareRows(one, other) {
  const places = [one, other].map((row) => (isWaiting(row) ? Infinity : (row.seq ?? 0)));
  if (places[0] !== places[1]) return places[0] - places[1];
  // Own rows carry the log's head after their push: everything pulled up to there came before.
  if (one.origin !== other.origin) return one.origin === "own" ? 1 : -1;
  return one.event.dev_seq - other.event.dev_seq;
}

/** Keys of the stoves of a batch that this phone knows a (wanted) event of, sorted. */
export async function listStoveKeys(batch, isWanted = Boolean) {
  const rows = await withStores(["events"], "readonly", ({ events }) =>
    ask(events.index("batch").getAll(batch)),
  );
  return [
    ...new Set(
      rows
        .filter(isWanted)
        .map((row) => row.key)
        .filter(Boolean),
    ),
  ].sort();
}

/** Rows about a stove made on this phone at or after a UTC time, newest first. */
export async function listMine(sinceIso) {
  const rows = await withStores(["events"], "readonly", ({ events }) =>
    ask(events.index("captured_at").getAll(IDBKeyRange.lowerBound(sinceIso))),
  );
  return rows.filter((row) => row.origin === "own" && row.event.stove).reverse();
}

/** Up to `count` rows (all without it) that the server has not named yet, this phone's own first, in order of making. */
export function listUnsent(count) {
  return withStores(["events"], "readonly", async ({ events }) => {
    const inTurn = (state) =>
      ask(events.index("turn").getAll(IDBKeyRange.bound([state], [state, []]), count));
    return (await Promise.all(Object.values(WAITING).map(inTurn))).flat().slice(0, count);
  });
}

/** Keeps another phone's sealed events, to be sent on as they are; gives how many were new here. */
export function takeRelayed(sealed) {
  return withRoom(() =>
    withStores(
      ["events"],
      "readwrite",
      async ({ events }) => {
        let taken = 0;
        for (const event of sealed) {
          if (await ask(events.getKey(event.id))) continue;
          events.add({
            id: event.id,
            key: keyOf(event),
            event,
            origin: "relay",
            state: WAITING.relay,
          });
          taken += 1;
        }
        return taken;
      },
      STRICT,
    ),
  );
}

// --- What the server said

export function isSamePosition(one, other) {
  return (
    (one?.seq ?? null) === (other?.seq ?? null) && (one?.chain ?? null) === (other?.chain ?? null)
  );
}

/**
 * The row after an outcome: only a named, final one ends the waiting. Its place in the log is the one
 * named; `head`, the log's end, stands in for it where a server does not say.
 */
export function settleRow(row, { outcome, reason, seq }, head) {
  const state = FINAL_STATES.get(outcome);
  const { reason: _, ...rest } = row;
  const named = { ...rest, outcome, ...(reason && { reason }) };
  return state ? { ...named, state, seq: seq ?? row.seq ?? head } : named;
}

/**
 * Takes the results of a push. `asked` = {ids: Set, have} of the request, `head` of the answer.
 * A late answer, whose `have` is no longer ours, changes nothing: after a restore of the server
 * it would mark records as kept that are gone. Gives {is_late, settled: ids}.
 */
export function acknowledge(results, asked, head) {
  return withStores(["events", "meta"], "readwrite", async ({ events, meta }) => {
    const settled = [];
    if (!isSamePosition(await ask(meta.get("have")), asked.have)) return { is_late: true, settled };
    for (const result of results) {
      const row = asked.ids.has(result?.id) ? await ask(events.get(result.id)) : undefined;
      if (!isWaiting(row) || typeof result.outcome !== "string") continue;
      const next = settleRow(row, result, head.seq);
      events.put(next);
      if (!isWaiting(next)) settled.push(row.id);
    }
    meta.put(head, "have");
    return { is_late: false, settled };
  });
}

/** Keeps pulled rows {seq, state, event} and the new cursor together; gives whether it was late. */
export function mergePulled(rows, cursor, asked) {
  return withStores(["events", "meta"], "readwrite", async ({ events, meta }) => {
    const now = await keep.readKeys(meta, ["have", "cursor"]);
    const isLate = (now.cursor ?? "") !== asked.cursor || !isSamePosition(now.have, asked.have);
    if (isLate) return { is_late: true };
    for (const { seq, state, event } of rows) {
      if (typeof event?.id !== "string" || typeof event.kind !== "string") continue;
      const known = await ask(events.get(event.id));
      // The first body under an id counts; another one is the server's to show.
      if (known && state === "conflict") continue;
      const pulled = { id: event.id, key: keyOf(event), event, state: "sent", outcome: state, seq };
      // Another body than the server's own still has to be handed in, to be kept beside it.
      const isMine =
        known?.origin === "own" || (isWaiting(known) && known.event.hash !== event.hash);
      events.put(isMine ? { ...known, seq } : { ...pulled, origin: known?.origin ?? "other" });
    }
    meta.put(cursor, "cursor");
    return { is_late: false };
  });
}

/** Remembers which server this phone belongs to; another one knows nothing of what is here. */
export async function meetServer(server_id) {
  const known = await keep.getMeta("server_id");
  if (known && known !== server_id) await forgetAcknowledgements(server_id);
  else if (!known) await keep.setMeta("server_id", server_id);
}

/**
 * The server's log is not the one this phone knew: everything still here is offered again and
 * pulled from zero. With another server (`server_id`) what other phones sent to the old one goes.
 */
export function forgetAcknowledgements(server_id) {
  return withStores(["events", "photos", "meta"], "readwrite", async ({ events, photos, meta }) => {
    await eachRow(events.openCursor(), (cursor) => {
      const { outcome: _, reason: __, ...row } = cursor.value;
      if (WAITING[row.origin]) cursor.update({ ...row, state: WAITING[row.origin] });
      else if (server_id) cursor.delete();
    });
    let waiting = 0;
    await eachRow(photos.openCursor(), (cursor) => {
      const { sent_at: _, reason: __, ...photo } = cursor.value;
      if (!photo.bytes) return;
      waiting += photo.bytes.byteLength;
      if (photo.state !== "unsent") cursor.update({ ...photo, state: "unsent" });
    });
    meta.put(waiting, "unsent_photo_bytes");
    meta.delete("have");
    meta.delete("cursor");
    if (server_id) meta.put(server_id, "server_id");
  });
}

/** Deletes what is acknowledged, older than 90 days and beyond the newest 5,000. */
export function pruneRecords(nowMs) {
  const limit = new Date(nowMs - KEPT_DAYS * 86_400_000).toISOString();
  return withStores(["events"], "readwrite", async ({ events }) => {
    let spare = (await ask(events.count())) - KEPT_RECORDS;
    if (spare <= 0) return;
    const old = events.index("captured_at").openCursor(IDBKeyRange.upperBound(limit, true));
    await eachRow(old, (cursor) => {
      if (spare <= 0 || isWaiting(cursor.value)) return;
      cursor.delete();
      spare -= 1;
    });
  });
}
