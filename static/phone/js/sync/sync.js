// One exchange with the server: greet, push, pull, photos; safe to repeat, safe to cut anywhere.
// What is "known by the server" changes only in acknowledge() and mergePulled().
import { pruneRecords } from "../store/acknowledge.js";
import { changes, joinTabs } from "../store/changes.js";
import { noteCounts, startDevice } from "../store/device.js";
import { isFull, keepReserve, prunePhotos, withRoomToSend } from "../store/free_space.js";
import { endForgetting } from "../store/lineage.js";
import { readMeta, setMeta } from "../store/local_db.js";
import { recordLoss } from "../store/outbox.js";
import { dropLoosePhotos } from "../store/photos.js";
import { countRecords, countRelayed, countUnsent } from "../store/records.js";
import { makeSigningKey } from "../store/signing_key.js";
import { handshake, send } from "./handshake.js";
import { Stop, isNearAddress } from "./http.js";
import { fetchPictures } from "./lessons.js";
import { backOffMs } from "./pace.js";
import { sendPhotos } from "./photo_upload.js";
import { pullWhileRoom } from "./pull.js";
import { pushAll } from "./push.js";
import { session } from "./session.js";

const QUIET_MS = 300_000;
const MANY_MISSES = 3;
/** @type {SyncResult} */
const FAILED = { status: "failed", sent: 0, left: 1, text_key: "sync.not-connected" };

/** @type {Promise<SyncResult> | null} */
let running = null;
let timer = 0;

/**
 * One exchange; at most one at a time over all tabs, and a second call in this tab joins the
 * first. Gives {status: sent|nothing|not-connected|pair-again|full|busy, sent, left?, text_key,
 * wait_ms?}.
 * @returns {Promise<SyncResult>}
 */
export function syncNow() {
  session.failures = 0;
  return exchangeAlone();
}

/** @returns {Promise<SyncResult>} */
function exchangeAlone() {
  running ??= holdLock().finally(() => {
    running = null;
  });
  return running;
}

/** @returns {Promise<SyncResult>} */
async function holdLock() {
  // Without locks two tabs may both send: the server stores each record once all the same.
  if (!navigator.locks) return exchange();
  return navigator.locks.request("qcapp-sync", { ifAvailable: true }, async (lock) =>
    lock ? exchange() : { status: "busy", sent: 0, text_key: "sync.busy" },
  );
}

/** @returns {Promise<SyncResult>} */
async function exchange() {
  /** @type {SyncRun} */
  const run = { sent: 0, restores: 0, deferred: new Set(), contact_at: null };
  /** @type {CallAnswer} */
  let stopped = { kind: "ok" };
  try {
    // Neither may keep a full phone from sending, which is what makes room.
    for (const part of [recordLoss, endForgetting]) await unlessFull(run, part);
    Object.assign(run, await readMeta(["token", "device_id", "is_wifi_only", "signing_key"]));
    if (!run.token) throw new Stop({ kind: "pair-again" });
    run.signing_key ??= await makeSigningKey();
    for (const part of [handshake, pushAll, pullWhileRoom]) await part(run);
    await fetchPictures(run);
    // Last: a record is complete without its photo.
    await sendPhotos((path, options) => send(run, path, options), run.is_wifi_only);
    await Promise.all([pruneRecords(Date.now()), prunePhotos(Date.now())]);
  } catch (error) {
    if (isFull(error)) run.isFull = true;
    else if (error instanceof Stop) stopped = error.answer;
    else throw error;
  }
  if (run.isFull && stopped.kind === "ok") stopped = { kind: "full" };
  session.misses = run.contact_at ? 0 : session.misses + Number(stopped.kind === "not-connected");
  if (run.contact_at) await unlessFull(run, () => setMeta("last_contact_at", run.contact_at));
  await keepReserve();
  session.lastResult = await buildResult(run, stopped);
  changes.dispatchEvent(new Event("synced"));
  return session.lastResult;
}

/**
 * @param {SyncRun} run
 * @param {() => Promise<unknown>} work
 */
async function unlessFull(run, work) {
  try {
    await withRoomToSend(work);
  } catch (error) {
    if (!isFull(error)) throw error;
    run.isFull = true;
  }
}

/**
 * @param {SyncRun} run
 * @param {CallAnswer} answer
 * @returns {Promise<SyncResult>}
 */
async function buildResult(run, { kind, wait_ms, error }) {
  const [unsent, relayed, created] = await Promise.all([
    countUnsent(),
    countRelayed(),
    countRecords(),
  ]);
  const left = unsent + relayed;
  noteCounts({ device_id: run.device_id, acked: Math.max(0, created - unsent) });
  const good = run.sent > 0 ? "sent" : "nothing";
  const word = good === "nothing" && left > 0 ? "left" : good;
  const status = statusOf(kind, good);
  const text_key = `sync.${status === good ? word : nameError(kind, run)}`;
  return { status, sent: run.sent, left, text_key, wait_ms, error };
}

/**
 * @param {CallAnswer["kind"]} kind
 * @param {"sent" | "nothing"} good
 */
function statusOf(kind, good) {
  if (kind === "ok" || kind === "hidden") return good;
  return ["pair-again", "full"].includes(kind) ? kind : "not-connected";
}

/**
 * @param {string} kind
 * @param {SyncRun} run
 */
function nameError(kind, run) {
  if (kind === "pair-again" && !run.token) return "not-paired";
  // Android leaves a Wi-Fi without internet for mobile data, where a server in the yard is out of
  // reach.
  const isWrongNetwork =
    kind === "not-connected" && session.misses >= MANY_MISSES && isNearAddress(location.hostname);
  return isWrongNetwork ? "wrong-network" : kind;
}

/** Exchanges at start, when the page shows, when the network returns and after each record. */
export async function startSync() {
  await startDevice();
  await dropLoosePhotos();
  document.addEventListener("visibilitychange", () =>
    document.hidden ? clearTimeout(timer) : wake(),
  );
  addEventListener("online", wake);
  changes.addEventListener("recorded", wake);
  joinTabs();
  wake();
}

function wake() {
  session.failures = 0;
  plan(0);
}

/** @param {number} delayMs */
function plan(delayMs) {
  clearTimeout(timer);
  if (!document.hidden) timer = setTimeout(tick, delayMs);
}

async function tick() {
  const result = await exchangeAlone().catch(() => FAILED);
  if (result.status === "pair-again") return;
  const isDone = result.left === 0 && ["sent", "nothing"].includes(result.status);
  plan(isDone ? QUIET_MS : Math.max(result.wait_ms ?? 0, backOffMs(session.failures)));
  if (!isDone) session.failures += 1;
}
