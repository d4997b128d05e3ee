// Who answers, and whether the reference has changed. Every call of an exchange goes through here.
import { rememberServer } from "../store/lineage.js";
import { isFull } from "../store/free_space.js";
import { getMeta, saveReference, setMeta } from "../store/local_db.js";
import { Stop, call } from "./http.js";
import { findNewest, takeLog } from "./log_proof.js";
import { session } from "./session.js";

export const PROTOCOL = 1;
const GREETING_MS = 300_000;

/**
 * Every call of an exchange goes through here, so that a hidden page falls silent between two.
 * @param {SyncRun} run
 * @param {string} path
 * @param {CallOptions} options
 * @returns {Promise<CallAnswer>}
 */
export async function send(run, path, options) {
  if (document.hidden) throw new Stop({ kind: "hidden" });
  const answer = await call(path, { token: run.token, ...options });
  if (answer.kind === "ok") run.contact_at = new Date().toISOString();
  return answer;
}

/**
 * @param {SyncRun} run
 * @param {string} path
 * @param {CallOptions} options
 */
export async function callOrStop(run, path, options) {
  const answer = await send(run, path, options);
  if (answer.kind !== "ok") throw new Stop(answer);
  return answer.data;
}

/** @param {SyncRun} run */
export async function handshake(run) {
  // Not by the phone's clock: one set back would keep an old greeting for weeks.
  if (performance.now() - session.greetedAt < GREETING_MS) return;
  const kept = await findNewest();
  const hello = await callOrStop(run, `/api/sync/hello${kept ? `?since=${kept.size}` : ""}`, {
    accepts: (data) =>
      Number.isInteger(data.protocol) && isPosition(data.head) && typeof data.server_id === "string",
  });
  if (hello.protocol !== PROTOCOL) throw new Stop({ kind: "other-protocol" });
  await rememberServer(hello.server_id);
  await takeLog(run, hello.log, kept);
  if (hello.reference_tag !== (await getMeta("reference_tag"))) await fetchReference(run);
  session.hello = hello;
  session.greetedAt = performance.now();
  session.failures = 0;
}

/** @param {SyncRun} run */
async function fetchReference(run) {
  const reference = await callOrStop(run, "/api/sync/reference", {
    accepts: (data) =>
      typeof data.tag === "string" && Array.isArray(data.checklists) && Array.isArray(data.batches),
  });
  try {
    await saveReference(reference);
    await setMeta("reference_tag", reference.tag);
  } catch (error) {
    if (!isFull(error)) throw error;
    // An older reference must not keep records from being sent.
    run.isFull = true;
  }
}

/** @param {any} head */
export const isPosition = (head) =>
  Number.isSafeInteger(head?.seq) && typeof head.chain === "string";
