// How much waits to be sent, counted without reading a row.
import { ask } from "./db.js";

// State of what waits, by origin: two words, so that both can be counted without reading rows.
/** @type {{own: "unsent", relay: "relay", other?: undefined}} */
export const WAITING = { own: "unsent", relay: "relay" };

/** @param {Pick<EventRow, "state" | "origin"> | undefined} row */
export const isWaiting = (row) => row !== undefined && row.state === WAITING[row.origin];

/**
 * Of the index `turn`.
 * @param {EventRow["state"]} state
 */
export const rangeOf = (state) => IDBKeyRange.bound([state], [state, []]);

/**
 * {unsent, relayed}: records made here, and those taken from other phones, that the server has not
 * named; inside a transaction of the caller.
 * @param {Stores} stores
 */
export async function countWaiting({ events }) {
  const counts = [WAITING.own, WAITING.relay].map((state) =>
    ask(events.index("turn").count(rangeOf(state))),
  );
  const [unsent, relayed] = await Promise.all(counts);
  return { unsent, relayed };
}

/**
 * {waiting, refused, bytes}: photos that the server has not got, and how much room they take; inside
 * a transaction of the caller.
 * @param {Stores} stores
 */
export async function countWaitingPhotos({ photos, meta }) {
  const [waiting, refused, bytes = 0] = await Promise.all([
    ...["unsent", "refused"].map((state) => ask(photos.index("state").count(state))),
    ask(meta.get("unsent_photo_bytes")),
  ]);
  return { waiting, refused, bytes };
}
