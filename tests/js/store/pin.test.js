import assert from "node:assert/strict";
import { test } from "node:test";
import { hashPin } from "../../../static/phone/js/store/pin.js";

const salt = Uint8Array.from({ length: 16 }, (_, index) => index);

test("a PIN's hash is PBKDF2 with SHA-256 and 100,000 rounds", async () => {
  // hashlib.pbkdf2_hmac("sha256", b"0428", bytes(range(16)), 100_000).hex() of Python;
  // `openssl kdf ... PBKDF2` gives the same.
  const { hash } = await hashPin("0428", salt);
  assert.equal(hash, "4fae9a2a754b1dc25e661c4a1f071abf0564bdbef5e095a8b369575aeef485e9");
});

test("the same PIN fits with its salt, another one and another salt do not", async () => {
  const kept = await hashPin("0428");
  assert.equal(kept.salt.length, 16);
  assert.equal((await hashPin("0428", kept.salt)).hash, kept.hash);
  assert.notEqual((await hashPin("0429", kept.salt)).hash, kept.hash);
  assert.notEqual((await hashPin("0428")).hash, kept.hash);
});
