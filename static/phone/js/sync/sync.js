// When and how the phone talks to the server: greet, push, pull, photos; safe to repeat, safe to
// cut anywhere. What is "known by the server" changes only in acknowledge() and mergePulled().
import { layBallast, prunePhotos } from "../store/db.js";
import * as keep from "../store/local_db.js";
import * as outbox from "../store/outbox.js";
import {
  backOffMs,
  call,
  fillBatch,
  FIRST_BATCH,
  isNearAddress,
  listDefinitions,
  nextSize,
  sendPhotos,
  Stop,
} from "./http.js";

const PROTOCOL = 1;
const MOST_RESTORES = 3;
const MOST_ASIDE = 20;
const GREETING_MS = 300_000;
const QUIET_MS = 300_000;
const MANY_MISSES = 3;

let greeting = null;
let running = null;
let batchSize = FIRST_BATCH;
let lastResult = null;
let timer = 0;
let tries = 0;
let misses = 0;

/**
 * Trades a join code for a token; gives {name}. Throws an Error with `text_key` when the server
 * says no or is not there. The records made so far go along under this phone's own id.
 */
export async function enrol(code) {
  const { device_id, dev_seq } = await keep.getDevice();
  const answer = await call("/api/devices/enrol", {
    method: "POST",
    json: { code, device_id, created: dev_seq },
    accepts: (data) =>
      data.device_id === device_id && Boolean(data.token) && Boolean(data.server_id),
  });
  if (answer.kind !== "ok") {
    const { what, todo } = answer.error ?? {};
    throw Object.assign(new Error(`${what}: ${todo}`), {
      text_key: what ? null : "sync.not-connected",
    });
  }
  const { token, name, server_id } = answer.data;
  await outbox.meetServer(server_id);
  await keep.setMeta("device_name", name);
  await keep.setMeta("token", token);
  // An exchange may be under way and still need the old one.
  greeting &&= { ...greeting, at: -GREETING_MS };
  return { name };
}

/**
 * One exchange; at most one at a time over all tabs, and a second wish in this tab joins the first.
 * Gives {status: sent|nothing|not-connected|pair-again|busy, sent, left?, text_key, wait_ms?}.
 */
export function syncNow() {
  tries = 0;
  return exchangeAlone();
}

function exchangeAlone() {
  running ??= holdLock().finally(() => {
    running = null;
  });
  return running;
}

function holdLock() {
  // Without locks two tabs may both send: the server stores each record once all the same.
  if (!navigator.locks) return exchange();
  return navigator.locks.request("qcapp-sync", { ifAvailable: true }, (lock) =>
    lock ? exchange() : { status: "busy", sent: 0, text_key: "sync.busy" },
  );
}

async function exchange() {
  const run = { sent: 0, restores: 0, aside: new Set(), contact_at: null };
  let stopped = { kind: "ok" };
  try {
    await outbox.recordLoss();
    Object.assign(run, await keep.readMeta(["token", "device_id", "is_wifi_only"]));
    if (!run.token) throw new Stop({ kind: "pair-again" });
    for (const part of [greet, pushAll, pullAll]) await part(run);
    // Last: a record is complete without its photo.
    await sendPhotos((path, wish) => send(run, path, wish), run.is_wifi_only);
    await Promise.all([outbox.pruneRecords(Date.now()), prunePhotos(Date.now())]);
  } catch (error) {
    if (!(error instanceof Stop)) throw error;
    stopped = error.answer;
  }
  misses = run.contact_at ? 0 : misses + (stopped.kind === "not-connected");
  if (run.contact_at) await keep.setMeta("last_contact_at", run.contact_at);
  await layBallast();
  lastResult = await buildResult(run, stopped);
  outbox.changes.dispatchEvent(new Event("synced"));
  return lastResult;
}

async function buildResult(run, { kind, wait_ms, error }) {
  const [unsent, relayed, created] = await Promise.all([
    outbox.countUnsent(),
    outbox.countRelayed(),
    outbox.countRecords(),
  ]);
  const left = unsent + relayed;
  keep.noteCanary({ device_id: run.device_id, acked: Math.max(0, created - unsent) });
  const good = run.sent > 0 ? "sent" : "nothing";
  const word = good === "nothing" && left > 0 ? "left" : good;
  const status = { ok: good, hidden: good, "pair-again": "pair-again" }[kind] ?? "not-connected";
  const text_key = `sync.${status === good ? word : nameTrouble(kind, run)}`;
  return { status, sent: run.sent, left, text_key, wait_ms, error };
}

function nameTrouble(kind, run) {
  if (kind === "pair-again" && !run.token) return "not-paired";
  // Android leaves a Wi-Fi without internet for mobile data, where a server in the yard is out of reach.
  const isAstray =
    kind === "not-connected" && misses >= MANY_MISSES && isNearAddress(location.hostname);
  return isAstray ? "astray" : kind;
}

/** Every call of an exchange goes through here, so that a hidden page falls silent between two. */
async function send(run, path, wish) {
  if (document.hidden) throw new Stop({ kind: "hidden" });
  const answer = await call(path, { token: run.token, ...wish });
  if (answer.kind === "ok") run.contact_at = new Date().toISOString();
  return answer;
}

async function must(run, path, wish) {
  const answer = await send(run, path, wish);
  if (answer.kind !== "ok") throw new Stop(answer);
  return answer.data;
}

// --- Greeting: who answers, and whether the reference has changed.

async function greet(run) {
  // Not by the phone's clock: one set back would keep an old greeting for weeks.
  if (greeting && performance.now() - greeting.at < GREETING_MS) return;
  const hello = await must(run, "/api/sync/hello", {
    accepts: (data) =>
      Array.isArray(data.protocols) && isPosition(data.head) && typeof data.server_id === "string",
  });
  if (!hello.protocols.includes(PROTOCOL)) throw new Stop({ kind: "other-protocol" });
  await outbox.meetServer(hello.server_id);
  if (hello.reference_tag !== (await keep.getMeta("reference_tag"))) await fetchReference(run);
  greeting = { at: performance.now(), hello };
  tries = 0;
}

async function fetchReference(run) {
  const reference = await must(run, "/api/sync/reference", {
    accepts: (data) =>
      typeof data.tag === "string" && Array.isArray(data.checklists) && Array.isArray(data.batches),
  });
  await keep.saveReference(reference);
  await keep.setMeta("reference_tag", reference.tag);
}

const isPosition = (head) => Number.isSafeInteger(head?.seq) && typeof head.chain === "string";

// --- Push

async function pushAll(run) {
  let mustCompare = await isElsewhere();
  for (;;) {
    const waiting = await outbox.listUnsent(batchSize + run.aside.size);
    const batch = fillBatch(
      waiting.filter((row) => !run.aside.has(row.id)),
      batchSize,
    );
    if (batch.length === 0 && !mustCompare) return;
    const answer = await pushOnce(run, batch);
    if (batch.length > 0) batchSize = nextSize(batchSize, batch.length, answer);
    if (answer.kind === "ok") await takePush(run, batch, answer);
    else if (["too-large", "refused"].includes(answer.kind) && batch.length > 0)
      setAside(run, batch, answer);
    else throw new Stop(answer);
    mustCompare &&= answer.kind !== "ok";
  }
}

/** Whether the server's head moved since this phone last compared: then even an empty push must ask. */
async function isElsewhere() {
  const have = await keep.getMeta("have");
  return Boolean(have) && !outbox.isSamePosition(have, greeting.hello.head);
}

/** A single record that the server will not take whole must not hold up those behind it. */
function setAside(run, batch, answer) {
  if (batch.length > 1) return;
  run.aside.add(batch[0].id);
  if (run.aside.size > MOST_ASIDE) throw new Stop(answer);
}

async function pushOnce(run, batch) {
  // In this order: a record saved in between then counts as waiting; the other way round the server would miss it.
  const created = await outbox.countRecords();
  const [have = null, left] = await Promise.all([keep.getMeta("have"), outbox.countUnsent()]);
  // Only tells this answer from an older one that somebody kept; nobody has to be unable to guess it.
  const request_id = `${Date.now()}-${Math.random()}`;
  const events = batch.map((row) => row.event);
  const definitions = await listDefinitions(events, greeting.hello.checklists);
  const json = {
    protocol: PROTOCOL,
    request_id,
    have,
    device: {
      id: run.device_id,
      created,
      acked: Math.max(0, created - left),
      clock: new Date().toISOString(),
    },
    events,
    ...(definitions.length > 0 ? { definitions } : {}),
  };
  const accepts = (data) =>
    data.protocol === PROTOCOL &&
    data.request_id === request_id &&
    ["ok", "diverged"].includes(data.lineage) &&
    isPosition(data.head) &&
    Array.isArray(data.results);
  const answer = await send(run, "/api/sync/push", { method: "POST", json, accepts });
  return { ...answer, have };
}

async function takePush(run, batch, { data, have }) {
  if (data.lineage === "diverged") return offerAgain(run);
  const ids = new Set(batch.map((row) => row.id));
  const { is_late, settled } = await outbox.acknowledge(data.results, { ids, have }, data.head);
  if (is_late) throw new Stop({ kind: "not-connected" });
  greeting.hello.head = data.head;
  run.sent += settled.length;
  // Named but not final ("retry") waits for the next exchange; what was not named is offered again
  // at once, as long as an answer settles anything.
  const again = new Set(
    data.results.filter((result) => result?.outcome !== undefined).map((result) => result.id),
  );
  for (const id of ids) if (settled.length === 0 || again.has(id)) run.aside.add(id);
}

// --- Pull

async function pullAll(run) {
  for (;;) {
    const { have = null, cursor = "" } = await keep.readMeta(["have", "cursor"]);
    const page = await must(
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
      await offerAgain(run);
      await pushAll(run);
      continue;
    }
    const { is_late } = await outbox.mergePulled(page.events, page.cursor, { have, cursor });
    if (is_late) throw new Stop({ kind: "not-connected" });
    if (!page.more) return;
  }
}

/** The server was restored or replaced; greeted anew because its checklists may be older too. */
async function offerAgain(run) {
  run.restores += 1;
  if (run.restores > MOST_RESTORES) throw new Stop({ kind: "not-connected" });
  run.aside.clear();
  await outbox.forgetAcknowledgements();
  greeting = null;
  await greet(run);
}

// --- When

/** Exchanges at start, when the page shows, when the network returns and after each record. */
export async function startSync() {
  await keep.startDevice();
  await keep.dropLoosePhotos();
  document.addEventListener("visibilitychange", () =>
    document.hidden ? clearTimeout(timer) : wake(),
  );
  addEventListener("online", wake);
  outbox.changes.addEventListener("recorded", wake);
  outbox.joinTabs();
  wake();
}

function wake() {
  tries = 0;
  plan(0);
}

function plan(delayMs) {
  clearTimeout(timer);
  if (!document.hidden) timer = setTimeout(tick, delayMs);
}

async function tick() {
  const result = await exchangeAlone().catch(() => ({ status: "failed", left: 1 }));
  if (result.status === "pair-again") return;
  const isDone = result.left === 0 && ["sent", "nothing"].includes(result.status);
  plan(isDone ? QUIET_MS : Math.max(result.wait_ms ?? 0, backOffMs(tries)));
  if (!isDone) tries += 1;
}

/** What the screens may tell: counts, last contact, photos, whether the browser protects the storage. */
export async function status() {
  const [unsent, relayed, created, photos, isProtected, meta] = await Promise.all([
    outbox.countUnsent(),
    outbox.countRelayed(),
    outbox.countRecords(),
    keep.countPhotos(),
    navigator.storage?.persisted?.().catch(() => false) ?? false,
    keep.readMeta(["device_id", "device_name", "last_contact_at", "is_wifi_only"]),
  ]);
  return {
    unsent,
    relayed,
    created,
    on_server: Math.max(0, created - unsent),
    photos,
    protected: isProtected,
    last_result: lastResult,
    ...meta,
  };
}
