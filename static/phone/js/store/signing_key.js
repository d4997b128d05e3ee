// The key with which this phone signs what it hands over. The browser keeps it and never gives it
// out: whoever copies a record, a file or the token cannot sign as this phone.
import { KEY_KIND, signHash, toBase64Url } from "../inspection/signature.js";
import { STRICT, ask, withStores } from "./db.js";
import { withRoomToSend } from "./free_space.js";
import { getMeta } from "./local_db.js";

/**
 * This phone's key; made at the first call. Null where the browser makes or keeps none, or has no
 * room for it: then the records go without a signature.
 * @returns {Promise<SigningKey | null>}
 */
export async function getSigningKey() {
  return (await getMeta("signing_key")) ?? makeSigningKey();
}

/** @returns {Promise<SigningKey | null>} */
export async function makeSigningKey() {
  try {
    const pair = await crypto.subtle.generateKey(KEY_KIND, false, ["sign", "verify"]);
    const point = await crypto.subtle.exportKey("raw", pair.publicKey);
    return await keep({ private_key: pair.privateKey, public_key: toBase64Url(point) });
  } catch {
    return null;
  }
}

/**
 * The one that is kept: another tab may have been first.
 * @param {SigningKey} fresh
 * @returns {Promise<SigningKey>}
 */
function keep(fresh) {
  return withRoomToSend(() =>
    withStores(
      ["meta"],
      "readwrite",
      async ({ meta }) => {
        const kept = await ask(meta.get("signing_key"));
        if (!kept) meta.put(fresh, "signing_key");
        return kept ?? fresh;
      },
      STRICT,
    ),
  );
}

/**
 * Signatures of rows on their way out, in their order. Made now and not when a record is saved, so
 * that saving never waits for one; those of another phone's records came with them.
 * @param {EventRow[]} rows
 * @param {SigningKey | null | undefined} key
 * @returns {Promise<(string | null)[]>}
 */
export function signRows(rows, key) {
  return Promise.all(
    rows.map(async ({ origin, event, signature = null }) =>
      origin === "own" && key ? signHash(event.hash, key.private_key) : signature,
    ),
  );
}
