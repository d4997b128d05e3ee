import assert from "node:assert/strict";
import { test } from "node:test";
import { Stop } from "../../../static/phone/js/sync/http.js";
import { isFreeNetwork, sendPieces } from "../../../static/phone/js/sync/photo_upload.js";

const WHOLE = { is_whole: true };
const NOT_JPEG = { code: "not_jpeg", params: {} };

/** A server that keeps pieces; `spoil(count)` may give another answer for the nth call. */
function pieceServer(spoil = () => undefined) {
  const kept = [];
  let count = 0;
  const send = async (path, { method, bytes, headers: sent }) => {
    count += 1;
    const other = spoil(count, kept);
    if (other) return other;
    if (method === "HEAD") return { kind: "ok", offset: kept.length };
    if (Number(sent["Upload-Offset"]) !== kept.length)
      return { kind: "offset", offset: kept.length };
    kept.push(...new Uint8Array(bytes));
    return { kind: "ok", offset: kept.length };
  };
  return { kept, send };
}

const photo = Uint8Array.from({ length: 70_000 }, (_, index) => index % 251).buffer;

test("a photo arrives whole in pieces", async () => {
  const server = pieceServer();
  assert.deepEqual(await sendPieces(server.send, "/api/photos/a", photo), WHOLE);
  assert.deepEqual(Uint8Array.from(server.kept), new Uint8Array(photo));
});

test("a cut photo goes on where the server has got to", async () => {
  const server = pieceServer((count) => (count === 3 ? { kind: "not-connected" } : undefined));
  await assert.rejects(sendPieces(server.send, "/api/photos/a", photo), Stop);
  assert.equal(server.kept.length, 32_768);
  assert.deepEqual(await sendPieces(server.send, "/api/photos/a", photo), WHOLE);
  assert.deepEqual(Uint8Array.from(server.kept), new Uint8Array(photo));
});

test("a photo that the server drops again and again is given up for now", async () => {
  const server = pieceServer((count, kept) => {
    if (kept.length >= 65_536) kept.length = 0;
    return undefined;
  });
  assert.deepEqual(await sendPieces(server.send, "/api/photos/a", photo), { is_whole: false });
});

for (const answer of [
  { kind: "refused", error: { what: "it is not a JPEG", reason: NOT_JPEG } },
  { kind: "too-large" },
]) {
  test(`a photo answered with ${answer.kind} is not tried again and says why`, async () => {
    let calls = 0;
    const send = async () => (++calls === 1 ? { kind: "ok", offset: 0 } : answer);
    const said = await sendPieces(send, "/api/photos/a", photo);
    const reason = answer.error?.reason ?? { code: "refused", params: {} };
    assert.deepEqual(said, { is_whole: false, reason });
    assert.equal(calls, 2);
  });
}

test("only a network known to be free takes photos by itself", () => {
  assert.deepEqual([{ type: "wifi" }, { type: "ethernet" }].map(isFreeNetwork), [true, true]);
  assert.deepEqual([{ type: "cellular" }, { type: "unknown" }, {}, undefined].map(isFreeNetwork), [
    false,
    false,
    false,
    false,
  ]);
});
