// Sending records: each is offered until an answer names it.
import { acknowledge, isSamePosition } from "../store/acknowledge.js";
import { forgetAcknowledgements } from "../store/lineage.js";
import { hashRestartSecret } from "../store/device.js";
import { getMeta } from "../store/local_db.js";
import { countRecords, countUnsent, listUnsent } from "../store/records.js";
import { signRows } from "../store/signing_key.js";
import { listDefinitions, listDrawings } from "./definitions.js";
import { PROTOCOL, handshake, isPosition, send } from "./handshake.js";
import { session } from "./session.js";
import { Stop } from "./http.js";
import { findNewest, findUntold, markTold, takeLog } from "./log_proof.js";
import { fillBatch, nextSize } from "./pace.js";

const MAX_RESTORES = 3;
const MAX_DEFERRED = 20;

/** @param {SyncRun} run */
export async function pushAll(run) {
  let mustCompare = await isElsewhere();
  for (;;) {
    const waiting = await listUnsent(session.batchSize + run.deferred.size);
    const batch = fillBatch(
      waiting.filter((row) => !run.deferred.has(row.id)),
      session.batchSize,
    );
    if (batch.length === 0 && !mustCompare) return;
    const answer = await pushOnce(run, batch);
    if (batch.length > 0) session.batchSize = nextSize(session.batchSize, batch.length, answer);
    if (answer.kind === "ok") await takePush(run, batch, answer);
    else if (["too-large", "refused"].includes(answer.kind) && batch.length > 0)
      defer(run, batch, answer);
    else throw new Stop(answer);
    mustCompare &&= answer.kind !== "ok";
  }
}

/**
 * Whether the server's head moved since this phone last compared: then even an empty push must
 * ask.
 */
async function isElsewhere() {
  const have = await getMeta("have");
  if (await findUntold()) return true;
  return Boolean(have) && !isSamePosition(have, session.hello.head);
}

/**
 * A single record that the server will not take whole must not hold up those behind it.
 * @param {SyncRun} run
 * @param {EventRow[]} batch
 * @param {CallAnswer} answer
 */
function defer(run, batch, answer) {
  if (batch.length > 1) return;
  run.deferred.add(batch[0].id);
  if (run.deferred.size > MAX_DEFERRED) throw new Stop(answer);
}

/**
 * @param {SyncRun} run
 * @param {EventRow[]} batch
 */
async function pushOnce(run, batch) {
  // In this order: a record saved in between then counts as waiting; the other way round the server
  // would miss it.
  const created = await countRecords();
  const [have = null, left] = await Promise.all([getMeta("have"), countUnsent()]);
  const [kept, doubt] = await Promise.all([findNewest(), findUntold()]);
  // Only tells this answer from an older one that somebody kept; nobody has to be unable to guess
  // it.
  const request_id = `${Date.now()}-${Math.random()}`;
  const events = batch.map((row) => row.event);
  const signatures = await signRows(batch, run.signing_key);
  const definitions = await listDefinitions(events, session.hello.checklists);
  const drawings = await listDrawings(events, session.hello.checklists);
  const json = {
    protocol: PROTOCOL,
    request_id,
    have,
    ...(kept ? { since: kept.size } : {}),
    ...(doubt ? { doubt } : {}),
    device: {
      id: run.device_id,
      created,
      acked: Math.max(0, created - left),
      clock: new Date().toISOString(),
      key: run.signing_key?.public_key,
      restart: (await hashRestartSecret()) ?? undefined,
    },
    events,
    ...(signatures.some(Boolean) ? { signatures } : {}),
    ...(definitions.length > 0 ? { definitions, drawings } : {}),
  };
  const accepts = (/** @type {any} */ data) =>
    data.protocol === PROTOCOL &&
    data.request_id === request_id &&
    ["ok", "diverged"].includes(data.lineage) &&
    isPosition(data.head) &&
    Array.isArray(data.results);
  const answer = await send(run, "/api/sync/push", { method: "POST", json, accepts });
  return { ...answer, have, kept, doubt };
}

/**
 * @param {SyncRun} run
 * @param {EventRow[]} batch
 * @param {Awaited<ReturnType<typeof pushOnce>>} answer
 */
async function takePush(run, batch, { data, have, kept, doubt }) {
  if (doubt) await markTold(doubt);
  await takeLog(run, data.log, kept);
  if (data.lineage === "diverged") return resendAll(run);
  const ids = new Set(batch.map((row) => row.id));
  const { is_late, settled } = await acknowledge(data.results, { ids, have }, data.head);
  if (is_late) throw new Stop({ kind: "not-connected" });
  session.hello.head = data.head;
  run.sent += settled.length;
  // Named but not final ("retry") waits for the next exchange; what was not named is offered again
  // at once, as long as an answer settles anything.
  const named = data.results.filter((/** @type {any} */ result) => result?.outcome !== undefined);
  const again = new Set(named.map((/** @type {any} */ { id }) => id));
  for (const id of ids) if (settled.length === 0 || again.has(id)) run.deferred.add(id);
}

/**
 * The server was restored or replaced; greeted anew because its checklists may be older too.
 * @param {SyncRun} run
 */
export async function resendAll(run) {
  run.restores += 1;
  if (run.restores > MAX_RESTORES) throw new Stop({ kind: "not-connected" });
  run.deferred.clear();
  await forgetAcknowledgements();
  session.greetedAt = -Infinity;
  await handshake(run);
}
