// Which server's log this phone stands in, and what happens when it is another one than before.
import { ask, eachRow, withStores } from "./db.js";
import { isFull, withRoomToResend, withRoomToSend, withSpareSpace } from "./free_space.js";
import { getMeta, setMeta } from "./local_db.js";
import { forgetProjection } from "./outbox.js";
import { WAITING } from "./waiting.js";

const ALL = ["events", "photos", "meta", "stoves", "stale"];

/** @typedef {{server_id?: string}} Forgetting What was begun and must be ended: see `forgetSlowly`. */

/**
 * Remembers which server this phone belongs to; another one knows nothing of what is here.
 * @param {string} server_id
 */
export async function rememberServer(server_id) {
  const known = await getMeta("server_id");
  if (known && known !== server_id) await forgetAcknowledgements(server_id);
  else if (!known) await withRoomToSend(() => setMeta("server_id", server_id));
}

/**
 * The server's log is not the one this phone knew: everything still here is offered again and
 * pulled from zero. With another server (`server_id`) what other phones sent to the old one goes.
 * @param {string} [server_id]
 */
export async function forgetAcknowledgements(server_id) {
  try {
    await withRoomToResend(() => forgetAtOnce(server_id));
  } catch (error) {
    if (!isFull(error)) throw error;
    await forgetSlowly({ server_id });
  }
}

/** @param {string} [server_id] */
function forgetAtOnce(server_id) {
  return withStores(ALL, "readwrite", async (stores) => {
    const { events, photos, meta } = stores;
    forgetProjection(stores);
    await eachRow(events.openCursor(), (cursor) => {
      const { value } = cursor;
      const row = forgetRow(value, server_id);
      if (!row) cursor.delete();
      else if (row !== value) cursor.update(row);
    });
    let waiting = 0;
    await eachRow(photos.openCursor(), (cursor) => {
      const { value } = cursor;
      waiting += value.bytes?.byteLength ?? 0;
      const photo = forgetPhoto(value);
      if (photo !== value) cursor.update(photo);
    });
    meta.put(waiting, "unsent_photo_bytes");
    meta.delete("have");
    meta.delete("cursor");
    if (server_id) meta.put(server_id, "server_id");
  });
}

/**
 * The row as if no server had ever named it; null where it has no place here any more.
 * @param {EventRow} row
 * @param {string} [server_id]
 * @returns {EventRow | null}
 */
function forgetRow(row, server_id) {
  const state = WAITING[row.origin];
  if (!state) return server_id ? null : row;
  const { outcome: _, reason: __, ...rest } = row;
  return { ...rest, state };
}

/**
 * The photo as unsent, where this phone still has it.
 * @param {Photo} photo
 * @returns {Photo}
 */
function forgetPhoto(photo) {
  if (!photo.bytes || photo.state === "unsent") return photo;
  const { sent_at: _, reason: __, ...rest } = photo;
  return { ...rest, state: "unsent" };
}

/**
 * On a full phone a row at a time. The place in the log goes first, so that no answer still on its
 * way can settle a row again; a note says that this was begun, so that the next exchange ends it
 * when the page is closed in between.
 * @param {Forgetting} forgetting
 */
async function forgetSlowly(forgetting) {
  await withStores(["meta"], "readwrite", ({ meta }) => {
    meta.delete("have");
    meta.delete("cursor");
    meta.put(forgetting, "forgetting");
  });
  await endForgetting();
}

/** Ends what `forgetSlowly` began in a page that was closed since. */
export async function endForgetting() {
  /** @type {Forgetting | undefined} */
  const forgetting = await getMeta("forgetting");
  if (!forgetting) return;
  await changeEach("events", (row) => forgetRow(row, forgetting.server_id));
  await changeEach("photos", forgetPhoto);
  await withStores(ALL, "readwrite", async (stores) => {
    const { photos, meta } = stores;
    forgetProjection(stores);
    let waiting = 0;
    await eachRow(photos.openCursor(), (cursor) => {
      waiting += cursor.value.bytes?.byteLength ?? 0;
    });
    meta.delete("forgetting");
    meta.put(waiting, "unsent_photo_bytes");
    if (forgetting.server_id) meta.put(forgetting.server_id, "server_id");
  });
}

/**
 * Each row in a transaction of its own; `change` gives the new row, or null to delete it.
 * @param {"events" | "photos"} name
 * @param {(row: any) => any} change
 */
async function changeEach(name, change) {
  const keys = await withStores([name], "readonly", (stores) => ask(stores[name].getAllKeys()));
  for (const key of keys) {
    const changeOne = () =>
      withStores([name], "readwrite", async (stores) => {
        const row = await ask(stores[name].get(key));
        if (!row) return;
        const changed = change(row);
        if (!changed) stores[name].delete(key);
        else if (changed !== row) stores[name].put(changed);
      });
    await withSpareSpace(() => withRoomToResend(changeOne));
  }
}
