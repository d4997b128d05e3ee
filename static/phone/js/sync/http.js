// One call to the server and what its answer means. Whatever does not speak our protocol (a login
// page of some Wi-Fi, an empty or cut-off answer, a redirect) counts as "not connected" and so
// changes nothing.

const BASE_TIMEOUT_MS = 20_000;
const BYTES_PER_SECOND = 2000;
const WORTH_GZIP_BYTES = 1000;
const MAX_WAIT_MS = 3_600_000;

/** Ends an exchange early; `answer` is what call() gave. */
export class Stop extends Error {
  /** @param {CallAnswer} answer */
  constructor(answer) {
    super(answer.kind);
    this.answer = answer;
  }
}

/**
 * Calls and classifies. Gives {kind, data?, offset?, ms, timed_out?, wait_ms?, error?}, kind one of
 * ok, not-connected, pair-again, too-large, wait, refused, offset (409 of a photo).
 * @param {string} path
 * @param {CallOptions} [options]
 * @returns {Promise<CallAnswer>}
 */
export async function call(path, options = {}) {
  const began = performance.now();
  const packed = await packBody(options);
  /** @type {Record<string, string>} */
  const headers = { ...packed.headers, ...options.headers };
  if (options.token) headers.Authorization = `Bearer ${options.token}`;
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), timeoutMs(packed.size));
  try {
    const response = await fetch(path, {
      method: options.method ?? "GET",
      headers,
      body: packed.body,
      signal: stop.signal,
      redirect: "error",
      cache: "no-store",
      credentials: "omit",
    });
    const text = options.method === "HEAD" ? "" : await response.text();
    return {
      ...classify(response.status, response.headers, text, options.accepts),
      ms: performance.now() - began,
    };
  } catch {
    return { kind: "not-connected", timed_out: stop.signal.aborted, ms: performance.now() - began };
  } finally {
    clearTimeout(timer);
  }
}

/**
 * 20 s and a second for every 2 kB sent: a slow network must be able to finish.
 * @param {number} bytes
 */
export function timeoutMs(bytes) {
  return BASE_TIMEOUT_MS + (bytes / BYTES_PER_SECOND) * 1000;
}

/**
 * @param {CallOptions} options
 * @returns {Promise<{body?: BodyInit, size: number, headers: Record<string, string>}>}
 */
async function packBody({ json, bytes }) {
  if (bytes)
    return {
      body: bytes,
      size: bytes.byteLength,
      headers: { "Content-Type": "application/octet-stream" },
    };
  if (json === undefined) return { size: 0, headers: {} };
  const plain = new TextEncoder().encode(JSON.stringify(json));
  const headers = { "Content-Type": "application/json" };
  if (plain.byteLength < WORTH_GZIP_BYTES || typeof CompressionStream === "undefined") {
    return { body: plain, size: plain.byteLength, headers };
  }
  const stream = new Blob([plain]).stream().pipeThrough(new CompressionStream("gzip"));
  const body = await new Response(stream).arrayBuffer();
  return { body, size: body.byteLength, headers: { ...headers, "Content-Encoding": "gzip" } };
}

/**
 * What an answer means; pure. `headers` needs only get(name).
 * @param {number} status
 * @param {Pick<Headers, "get">} headers
 * @param {string} text
 * @param {CallOptions["accepts"]} [accepts]
 * @returns {CallAnswer}
 */
export function classify(status, headers, text, accepts) {
  if (status === 429 || status === 503)
    return { kind: "wait", wait_ms: readRetryAfter(headers.get("Retry-After")) };
  if (status === 413) return { kind: "too-large" };
  const offset = readOffset(headers.get("Upload-Offset"));
  if (!accepts && offset !== null) {
    if (status === 200 || status === 204) return { kind: "ok", offset };
    if (status === 409) return { kind: "offset", offset };
  }
  const data = parseJson(text);
  if (status === 200 && accepts && isObject(data) && accepts(data)) return { kind: "ok", data };
  // Only our own error shape may ask for a new pairing or blame the content.
  const error =
    isObject(data) && isObject(data.error) && typeof data.error.what === "string"
      ? data.error
      : null;
  if (!error || status < 400 || status >= 500)
    return { kind: "not-connected", ...(error && { error }) };
  return { kind: status === 401 ? "pair-again" : "refused", error };
}

/**
 * @param {string} text
 * @returns {any}
 */
function parseJson(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/** @param {unknown} value */
const isObject = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

/** @param {string | null} text */
function readOffset(text) {
  return /^[0-9]{1,12}$/.test(text ?? "") ? Number(text) : null;
}

/**
 * Seconds or a date, as RFC 9110 allows; unreadable or absent means "the usual pause".
 * @param {string | null} text
 */
function readRetryAfter(text) {
  if (!text) return null;
  const wait = /^[0-9]+$/.test(text) ? Number(text) * 1000 : Date.parse(text) - Date.now();
  return Number.isFinite(wait) ? Math.min(MAX_WAIT_MS, Math.max(0, wait)) : null;
}

/**
 * Whether the server stands in the yard, where a phone that turned to mobile data cannot reach it:
 * a bare number (servers elsewhere have names) or a name of a network's own (RFC 6762, RFC 8375).
 * @param {string} hostname
 */
export function isNearAddress(hostname) {
  return /^([\d.]+|\[.*|localhost)$|\.(local|lan|home\.arpa)$/.test(hostname);
}
