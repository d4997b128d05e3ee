// The signature of a record: this phone's key over the record's hash. It stands beside the record,
// never inside of what is hashed. Twin of qcapp/inspection/signature.py, which checks it; the rule
// is tests/vectors/signature/.

export const KEY_KIND = { name: "ECDSA", namedCurve: "P-256" };
export const ALGORITHM = { name: "ECDSA", hash: "SHA-256" };

/**
 * What is signed of the record with this hash (lower-case hex).
 * @param {string} hash
 */
export const signedBytes = (hash) => new TextEncoder().encode(`record/1\n${hash}`);

/**
 * base64url, without padding.
 * @param {ArrayBuffer} bytes
 */
export function toBase64Url(bytes) {
  const text = btoa(String.fromCharCode(...new Uint8Array(bytes)));
  return text.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/**
 * The signature of the record with this hash: r and s, 32 bytes each, in base64url.
 * @param {string} hash
 * @param {CryptoKey} privateKey
 */
export async function signHash(hash, privateKey) {
  return toBase64Url(await crypto.subtle.sign(ALGORITHM, privateKey, signedBytes(hash)));
}
