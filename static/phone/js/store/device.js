// This phone: its id and how many records it made. The browser may swap a damaged database for an
// empty one without an error, so a note outside of it (the noted counts) says what should be there.
import { browserSources, toHex, uuid7 } from "../inspection/event.js";
import { STRICT, ask, withStores } from "./db.js";
import { getMeta, readKeys, readMeta } from "./local_db.js";

const COUNTS_KEY = "qcapp.counts";
const SECRET_KEY = "qcapp.restart";

let isStarted = false;

/**
 * {device_id, dev_seq} of this phone; makes the id at the first start and after a loss.
 * @returns {Promise<Device>}
 */
export async function startDevice() {
  // The note first: it is written after the database, so it can never be ahead of what we read.
  const noted = readNotedCounts();
  const fresh = uuid7(Date.now(), browserSources.random(10));
  const device = await withStores(
    ["meta"],
    "readwrite",
    async ({ meta }) => {
      const { device_id, dev_seq = 0 } = await readKeys(meta, ["device_id", "dev_seq"]);
      const loss = judgeLoss(noted, device_id, dev_seq);
      if (device_id && !loss) return { device_id, dev_seq };
      meta.put(fresh, "device_id");
      meta.put(0, "dev_seq");
      if (loss?.created) meta.put(loss, "loss");
      return { device_id: fresh, dev_seq: 0 };
    },
    STRICT,
  );
  isStarted = true;
  noteCounts({ device_id: device.device_id, created: device.dev_seq });
  return device;
}

/**
 * True when what the database says of this phone (device_id, dev_seq) is whole by the note taken
 * before it was read: then the device is started, and the first screen need not wait for the disk.
 * @param {NotedCounts | null} noted
 * @param {Partial<Device>} known
 */
export function resumeDevice(noted, { device_id, dev_seq = 0 }) {
  isStarted ||= Boolean(device_id) && !judgeLoss(noted, device_id, dev_seq);
  return isStarted;
}

/**
 * The same as startDevice, from what is there already when this page has started the device before.
 * @returns {Promise<Device>}
 */
export async function getDevice() {
  const device = isStarted && (await readMeta(["device_id", "dev_seq"]));
  return device?.device_id ? device : startDevice();
}

/**
 * What is missing by the noted counts {device_id, created, acked, last_saved_at}; null when
 * nothing is. A note of another device id stands beside a database that is empty, or older than a
 * loss before.
 * @param {NotedCounts | null} noted
 * @param {string | undefined} device_id
 * @param {number} dev_seq
 * @returns {Loss | null}
 */
export function judgeLoss(noted, device_id, dev_seq) {
  const isSame = noted?.device_id === device_id;
  if (!noted || (isSame && noted.created <= dev_seq)) return null;
  const kept = Math.max(noted.acked ?? 0, isSame ? dev_seq : 0);
  return {
    ...noted,
    lost: Math.max(0, noted.created - kept),
    is_reported: false,
    is_seen: false,
  };
}

/**
 * {lost: N, last_saved_at, ...} until the inspector has seen it (markLoss), else null.
 * @returns {Promise<Loss | null>}
 */
export async function findLoss() {
  await getDevice();
  const loss = await getMeta("loss");
  return loss && !loss.is_seen ? loss : null;
}

/** @param {Partial<Loss>} change */
export function markLoss(change) {
  return withStores(["meta"], "readwrite", async ({ meta }) => {
    const loss = await ask(meta.get("loss"));
    if (loss) meta.put({ ...loss, ...change }, "loss");
  });
}

/**
 * What shows the server that a phone which lost its database is the one it was: kept beside the
 * database. Null where the browser lets nothing be noted there.
 */
export function getRestartSecret() {
  try {
    const noted = localStorage.getItem(SECRET_KEY);
    if (noted) return noted;
    const secret = toHex(browserSources.random(32));
    localStorage.setItem(SECRET_KEY, secret);
    return secret;
  } catch {
    return null;
  }
}

/** SHA-256 of that secret, which a phone that has joined may tell in every exchange. */
export async function hashRestartSecret() {
  const secret = getRestartSecret();
  return secret && browserSources.digest(new TextEncoder().encode(secret));
}

/** @returns {NotedCounts | null} */
export function readNotedCounts() {
  try {
    return JSON.parse(localStorage.getItem(COUNTS_KEY) ?? "null");
  } catch {
    return null;
  }
}

/**
 * Writes down counts that are complete in the database; never lowers them for the same phone.
 * @param {Partial<NotedCounts>} change
 */
export function noteCounts(change) {
  const before = readNotedCounts();
  const same = before && before.device_id === change.device_id ? before : { created: 0, acked: 0 };
  const created = Math.max(same.created, change.created ?? 0);
  try {
    localStorage.setItem(COUNTS_KEY, JSON.stringify({ ...same, ...change, created }));
  } catch {
    // No room or not allowed: the phone works on, only without this evidence.
  }
}
