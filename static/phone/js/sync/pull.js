// Fetching what other phones and the server recorded.
import { mergePulled } from "../store/acknowledge.js";
import { isFull } from "../store/free_space.js";
import { readMeta } from "../store/local_db.js";
import { PROTOCOL, callOrStop } from "./handshake.js";
import { Stop } from "./http.js";
import { resendAll, pushAll } from "./push.js";

/**
 * What others made is only worth keeping while there is room: a full phone sends, and pulls later.
 * @param {SyncRun} run
 */
export async function pullWhileRoom(run) {
  try {
    await pullAll(run);
  } catch (error) {
    if (!isFull(error)) throw error;
    run.isFull = true;
  }
}

/** @param {SyncRun} run */
async function pullAll(run) {
  for (;;) {
    const { have = null, cursor = "" } = await readMeta(["have", "cursor"]);
    const page = await callOrStop(
      run,
      `/api/sync/pull?cursor=${encodeURIComponent(cursor)}&limit=200&device=${run.device_id}`,
      {
        accepts: (data) =>
          data.protocol === PROTOCOL &&
          ["ok", "diverged"].includes(data.lineage) &&
          Array.isArray(data.events) &&
          typeof data.cursor === "string",
      },
    );
    if (page.lineage === "diverged") {
      await resendAll(run);
      await pushAll(run);
      continue;
    }
    const { is_late } = await mergePulled(page.events, page.cursor, { have, cursor });
    if (is_late) throw new Stop({ kind: "not-connected" });
    if (!page.more) return;
  }
}
