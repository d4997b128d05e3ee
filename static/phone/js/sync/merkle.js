// Whether a log only grew: the check of RFC 9162 section 2.1.4.2, as qcapp/transparency/merkle.py.
// Hashes are 32 bytes; sizes may pass 2^31, so no bits are shifted here.

const HASH_BYTES = 32;
/** The root of an empty log: SHA-256 of nothing. */
const EMPTY_ROOT = "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=";

/**
 * @param {string} text
 * @returns {Uint8Array | null} null where it is no base64
 */
export function fromBase64(text) {
  try {
    return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  } catch {
    return null;
  }
}

/**
 * @param {Uint8Array} left
 * @param {Uint8Array} right
 */
async function hashNode(left, right) {
  const both = new Uint8Array(1 + left.length + right.length);
  both[0] = 1;
  both.set(left, 1);
  both.set(right, 1 + left.length);
  return new Uint8Array(await crypto.subtle.digest("SHA-256", both));
}

/**
 * @param {Uint8Array} one
 * @param {Uint8Array} other
 */
const isSame = (one, other) => one.every((byte, index) => byte === other[index]);

/** @param {number} n */
const half = (n) => Math.floor(n / 2);

/** @param {number} n */
function isPowerOfTwo(n) {
  while (n % 2 === 0) n /= 2;
  return n === 1;
}

/**
 * Whether the tree of `size` entries with the root `root` begins with that of `old` entries with
 * the root `oldRoot`. Roots and proof are base64, as they come.
 * @param {{size: number, root: string}} old
 * @param {{size: number, root: string}} fresh
 * @param {string[]} proof
 */
export async function isConsistent(old, fresh, proof) {
  const sizes = [old.size, fresh.size];
  if (!sizes.every(Number.isSafeInteger) || old.size < 0 || old.size > fresh.size) return false;
  const hashes = [old.root, fresh.root, ...proof].map(fromBase64);
  if (!hashes.every((hash) => hash?.length === HASH_BYTES)) return false;
  const [oldRoot, root, ...path] = /** @type {Uint8Array[]} */ (hashes);
  if (old.size === 0) return old.root === EMPTY_ROOT && path.length === 0;
  if (old.size === fresh.size) return isSame(oldRoot, root) && path.length === 0;
  if (isPowerOfTwo(old.size)) path.unshift(oldRoot);
  return path.length > 0 && leadsToBoth(old.size - 1, fresh.size - 1, path, oldRoot, root);
}

/**
 * @param {number} place
 * @param {number} last
 * @param {Uint8Array[]} path
 * @param {Uint8Array} oldRoot
 * @param {Uint8Array} root
 */
async function leadsToBoth(place, last, path, oldRoot, root) {
  while (place % 2) [place, last] = [half(place), half(last)];
  let [first, second] = [path[0], path[0]];
  for (const other of path.slice(1)) {
    if (last === 0) return false;
    if (place % 2 || place === last) {
      first = await hashNode(other, first);
      second = await hashNode(other, second);
      while (place && place % 2 === 0) [place, last] = [half(place), half(last)];
    } else second = await hashNode(second, other);
    [place, last] = [half(place), half(last)];
  }
  return last === 0 && isSame(first, oldRoot) && isSame(second, root);
}
