// What the server said of records, and what is kept because of it.
import { ask, eachRow, withStores } from "./db.js";
import { isFull, withRoomToSend } from "./free_space.js";
import { readKeys } from "./local_db.js";
import { forgetProjection, keyOf, markStale } from "./outbox.js";
import { isWaiting } from "./waiting.js";

// Acknowledged records stay here so that this phone can heal a server restored from a backup.
const KEPT_DAYS = 90;
const KEPT_RECORDS = 5000;
const ALL = ["events", "meta", "stoves", "stale"];
/** @type {Map<string, EventRow["state"]>} */
const FINAL_STATES = new Map([
  ["created", "sent"],
  ["duplicate", "sent"],
  ["quarantined", "shown"],
  ["conflict", "shown"],
]);

/**
 * @param {Partial<Position> | null | undefined} one
 * @param {Partial<Position> | null | undefined} other
 */
export function isSamePosition(one, other) {
  return (
    (one?.seq ?? null) === (other?.seq ?? null) && (one?.chain ?? null) === (other?.chain ?? null)
  );
}

/**
 * Whether the phone's place in the log is no longer the one it asked from.
 * @param {IDBObjectStore} meta
 * @param {{have: Position | null}} asked
 */
const isLate = async (meta, asked) => !isSamePosition(await ask(meta.get("have")), asked.have);

/**
 * The row after an outcome: only a named, final one ends the waiting. Its place in the log is the
 * one named; `head`, the log's end, stands in for it where a server does not say.
 * @param {EventRow} row
 * @param {PushOutcome} result
 * @param {number} head
 * @returns {EventRow}
 */
export function settleRow(row, { outcome, reason, seq }, head) {
  const state = FINAL_STATES.get(outcome);
  const { reason: _, ...rest } = row;
  const named = { ...rest, outcome, ...(reason && { reason }) };
  return state ? { ...named, state, seq: seq ?? row.seq ?? head } : named;
}

/**
 * Takes the results of a push. `asked` = {ids: Set, have} of the request, `head` of the answer. A
 * late answer, whose `have` is no longer ours, changes nothing: after a restore of the server it
 * would mark records as kept that are gone. Gives {is_late, settled: ids}.
 * @param {any[]} results
 * @param {AskedPush} asked
 * @param {Position} head
 */
export async function acknowledge(results, asked, head) {
  try {
    return await withRoomToSend(() => settle(results, asked, head));
  } catch (error) {
    if (!isFull(error)) throw error;
    return settleOneByOne(results, asked, head);
  }
}

/**
 * @param {any[]} results
 * @param {AskedPush} asked
 * @param {Position} head
 * @param {{isLast: boolean}} [piece]
 */
function settle(results, asked, head, { isLast } = { isLast: true }) {
  return withStores(["events", "meta", "stale"], "readwrite", async ({ events, meta, stale }) => {
    /** @type {string[]} */
    const settled = [];
    if (await isLate(meta, asked)) return { is_late: true, settled };
    for (const result of results) {
      const row = asked.ids.has(result?.id) ? await ask(events.get(result.id)) : undefined;
      if (!isWaiting(row) || typeof result.outcome !== "string") continue;
      const next = settleRow(row, result, head.seq);
      events.put(next);
      markStale(stale, next.key);
      if (!isWaiting(next)) settled.push(row.id);
    }
    if (isLast) meta.put(head, "have");
    return { is_late: false, settled };
  });
}

/**
 * On a phone so full that not even the reserves were enough: a row at a time, and where even that
 * does not fit the row goes, because the server has it. Else nothing would ever be sent again.
 * @param {any[]} results
 * @param {AskedPush} asked
 * @param {Position} head
 */
async function settleOneByOne(results, asked, head) {
  /** @type {string[]} */
  const settled = [];
  for (const result of results) {
    const one = await settle([result], asked, head, { isLast: false }).catch((error) =>
      isFull(error) ? dropStored(result, asked) : Promise.reject(error),
    );
    if (one.is_late) return { is_late: true, settled };
    settled.push(...one.settled);
  }
  const { is_late } = await settle([], asked, head).catch((error) =>
    // The next exchange compares the older place.
    isFull(error) ? { is_late: false } : Promise.reject(error),
  );
  return { is_late, settled };
}

/**
 * Only what the server counts or has held back; a deletion needs no room.
 * @param {any} result
 * @param {AskedPush} asked
 */
function dropStored(result, asked) {
  return withStores(ALL, "readwrite", async (stores) => {
    const { events, meta } = stores;
    /** @type {string[]} */
    const settled = [];
    if (await isLate(meta, asked)) return { is_late: true, settled };
    const row = asked.ids.has(result?.id) ? await ask(events.get(result.id)) : undefined;
    if (isWaiting(row) && FINAL_STATES.has(result.outcome)) {
      events.delete(row.id);
      forgetProjection(stores);
      settled.push(row.id);
    }
    return { is_late: false, settled };
  });
}

/**
 * Keeps pulled rows {seq, state, event} and the new cursor together; gives whether it was late.
 * @param {any[]} rows
 * @param {string} cursor
 * @param {{have: Position | null, cursor: string}} asked
 */
export function mergePulled(rows, cursor, asked) {
  return withStores(["events", "meta", "stale"], "readwrite", async ({ events, meta, stale }) => {
    const now = await readKeys(meta, ["have", "cursor"]);
    const isLate = (now.cursor ?? "") !== asked.cursor || !isSamePosition(now.have, asked.have);
    if (isLate) return { is_late: true };
    for (const { seq, state, event } of rows) {
      if (typeof event?.id !== "string" || typeof event.kind !== "string") continue;
      const known = await ask(events.get(event.id));
      // The first body under an id counts; another one is the server's to show.
      if (known && state === "conflict") continue;
      const pulled = { id: event.id, key: keyOf(event), event, state: "sent", outcome: state, seq };
      // A restored server has to be shown again who made what this phone carries for another.
      const isSame = known?.signature && known.event.hash === event.hash;
      const rest = { origin: known?.origin ?? "other", ...(isSame && { signature: known.signature }) };
      // Another body than the server's own still has to be handed in, to be kept beside it.
      const isMine =
        known?.origin === "own" || (isWaiting(known) && known.event.hash !== event.hash);
      events.put(isMine ? { ...known, seq } : { ...pulled, ...rest });
      // A forged body under this id may have been of another stove.
      for (const key of new Set([known?.key, pulled.key])) markStale(stale, key);
    }
    meta.put(cursor, "cursor");
    return { is_late: false };
  });
}

/**
 * Deletes what is acknowledged, older than 90 days and beyond the newest 5,000.
 * @param {number} nowMs
 */
export async function pruneRecords(nowMs) {
  try {
    await prune(nowMs, ({ stale }, key) => markStale(stale, key));
  } catch (error) {
    if (!isFull(error)) throw error;
    // To delete must need no room.
    await prune(nowMs, forgetProjection);
  }
}

/**
 * @param {number} nowMs
 * @param {(stores: Stores, key: string | null) => void} noteDeleted
 */
function prune(nowMs, noteDeleted) {
  const limit = new Date(nowMs - KEPT_DAYS * 86_400_000).toISOString();
  return withStores(ALL, "readwrite", async (stores) => {
    const { events } = stores;
    let spare = (await ask(events.count())) - KEPT_RECORDS;
    if (spare <= 0) return;
    const old = events.index("captured_at").openCursor(IDBKeyRange.upperBound(limit, true));
    await eachRow(old, (cursor) => {
      if (spare <= 0 || isWaiting(cursor.value)) return;
      cursor.delete();
      noteDeleted(stores, cursor.value.key);
      spare -= 1;
    });
  });
}
