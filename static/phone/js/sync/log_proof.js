// The server's log must be one that only grew since this phone last saw it. The phone keeps the last
// checkpoints that were shown to it, signed by the yard: proof for anybody that the log was this one.
import { isFull, withRoomToSend } from "../store/free_space.js";
import { getMeta, readMeta, setMeta } from "../store/local_db.js";
import { isConsistent } from "./merkle.js";

const MAX_KEPT = 5;

/**
 * What a signed checkpoint says; null where it is none. Its signature is not looked at here: not
 * every browser knows its kind, and whoever is shown the checkpoint later can.
 * @param {unknown} note
 */
export function readCheckpoint(note) {
  if (typeof note !== "string") return null;
  const [origin, size, root] = note.split("\n");
  if (!/^[0-9]{1,15}$/.test(size ?? "") || !root) return null;
  return { origin, size: Number(size), root };
}

/**
 * The newest checkpoint that this phone keeps.
 * @returns {Promise<KeptCheckpoint | null>}
 */
export async function findNewest() {
  const row = (await getMeta("checkpoints"))?.at(-1);
  const read = readCheckpoint(row?.note);
  return read && { ...read, ...row };
}

/**
 * Holds what the server showed against what this phone kept, and keeps it. A log that is not shown
 * to continue is noted for the person and for the lead, and the phone goes on with it: its records
 * are worth more at a server that somebody looks at than here.
 * @param {SyncRun} run
 * @param {LogProof | null | undefined} shown
 * @param {KeptCheckpoint | null} kept what the server was asked about
 */
export async function takeLog(run, shown, kept) {
  const { checkpoints = [], log_doubt } = await readMeta(["checkpoints", "log_doubt"]);
  const fresh = readCheckpoint(shown?.note);
  if (!kept && (!fresh || checkpoints.length > 0)) return;
  const holds = !kept || (await isShown(kept, fresh, shown));
  try {
    if (kept && !holds && log_doubt?.kept !== kept.note) {
      const doubt = { kept: kept.note, seen_at: kept.at, at: new Date().toISOString() };
      await withRoomToSend(() => setMeta("log_doubt", doubt));
    }
    if (!fresh || (holds && kept?.size === fresh.size)) return;
    const row = { note: shown?.note, at: new Date().toISOString() };
    const rows = [...checkpoints, row].slice(-MAX_KEPT);
    await withRoomToSend(() => setMeta("checkpoints", rows));
  } catch (error) {
    if (!isFull(error)) throw error;
    run.isFull = true;
  }
}

/**
 * @param {KeptCheckpoint} kept
 * @param {ReturnType<typeof readCheckpoint>} fresh
 * @param {LogProof | null | undefined} shown
 */
async function isShown(kept, fresh, shown) {
  if (!fresh || !shown || kept.origin !== fresh.origin) return false;
  return shown.since === kept.size && isConsistent(kept, fresh, shown.proof ?? []);
}

/** The checkpoint that the server's log does not continue, as long as the server was not told. */
export async function findUntold() {
  const doubt = await getMeta("log_doubt");
  return doubt && !doubt.is_told ? doubt.kept : null;
}

/** @param {string} note */
export async function markTold(note) {
  const doubt = await getMeta("log_doubt");
  if (doubt?.kept === note) await setMeta("log_doubt", { ...doubt, is_told: true });
}
