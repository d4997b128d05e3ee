// Pictures and voice notes of lessons: pictures are fetched ahead, a voice note when it is chosen.
import { isFull } from "../store/free_space.js";
import { keepOnly, keepPicture } from "../store/lesson_pictures.js";
import { getMeta, readKnown } from "../store/local_db.js";

const TIMEOUT_MS = 30_000;

/**
 * The bytes of this name, null without signal or when they are not what the name says.
 * @param {string} name their SHA-256
 * @param {string | undefined} token
 * @returns {Promise<ArrayBuffer | null>}
 */
async function fetchBytes(name, token) {
  try {
    const response = await fetch(`/api/lesson-media/${name}`, {
      headers: { Authorization: `Bearer ${token}` },
      signal: AbortSignal.timeout(TIMEOUT_MS),
      cache: "no-store",
      credentials: "omit",
      redirect: "error",
    });
    const bytes = response.ok ? await response.arrayBuffer() : null;
    return bytes && (await hashOf(bytes)) === name ? bytes : null;
  } catch {
    return null;
  }
}

/** @param {ArrayBuffer} bytes */
async function hashOf(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest, (one) => one.toString(16).padStart(2, "0")).join("");
}

/** @param {string} name */
export const fetchChosen = async (name) => fetchBytes(name, await getMeta("token"));

/** What was wanted when all of it was here: most exchanges change nothing. */
let complete = "unknown";

/**
 * Fetches the pictures that lessons have now and drops the others. The first one that does not come
 * ends it until the next exchange, and so does a full phone: records are worth more.
 * @param {Pick<SyncRun, "token">} run
 */
export async function fetchPictures({ token }) {
  const { lessons = {} } = (await readKnown()).reference ?? {};
  const parts = Object.values(lessons).flat();
  const wanted = parts.filter(({ is_kept }) => is_kept).map(({ sha256 }) => sha256);
  if (wanted.join() === complete) return;
  try {
    for (const name of await keepOnly([...new Set(wanted)])) {
      const bytes = await fetchBytes(name, token);
      if (!bytes) return;
      await keepPicture(name, bytes);
    }
    complete = wanted.join();
  } catch (error) {
    if (!isFull(error)) throw error;
  }
}
