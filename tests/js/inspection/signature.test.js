import assert from "node:assert/strict";
import { test } from "node:test";

import {
  ALGORITHM,
  KEY_KIND,
  signHash,
  signedBytes,
  toBase64Url,
} from "../../../static/phone/js/inspection/signature.js";

const HASH = "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a";

test("a browser's key signs a record's hash, in as many letters as the server takes", async () => {
  const { privateKey, publicKey } = await crypto.subtle.generateKey(KEY_KIND, false, [
    "sign",
    "verify",
  ]);
  const text = await signHash(HASH, privateKey);
  assert.match(text, /^[\w-]{86}$/);
  const signature = Buffer.from(text, "base64url");
  assert.ok(await crypto.subtle.verify(ALGORITHM, publicKey, signature, signedBytes(HASH)));
  assert.ok(!(await crypto.subtle.verify(ALGORITHM, publicKey, signature, signedBytes("0"))));
  assert.match(toBase64Url(await crypto.subtle.exportKey("raw", publicKey)), /^B[\w-]{86}$/);
});
