// PINs keep one from going on in another's name by mistake: they label work and guard nothing.
import { browserSources, toHex } from "../inspection/event.js";

const PIN_ROUNDS = 100_000;

/**
 * {salt, hash} of a PIN: PBKDF2 (RFC 8018) with SHA-256, 256 bits, lower-case hex.
 * @param {string} pin
 * @param {Uint8Array<ArrayBuffer>} [salt]
 */
export async function hashPin(pin, salt = browserSources.random(16)) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, [
    "deriveBits",
  ]);
  const bits = await crypto.subtle.deriveBits(
    { name: "PBKDF2", hash: "SHA-256", salt, iterations: PIN_ROUNDS },
    key,
    256,
  );
  return { salt, hash: toHex(new Uint8Array(bits)) };
}
