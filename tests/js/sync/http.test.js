import assert from "node:assert/strict";
import { test } from "node:test";
import { call, classify, isNearAddress, timeoutMs } from "../../../static/phone/js/sync/http.js";
import { backOffMs, fillBatch, nextSize } from "../../../static/phone/js/sync/pace.js";

const headers = (pairs = {}) => new Headers(pairs);
const named = (data) => data.request_id === "r1";
const good = JSON.stringify({ protocol: 1, request_id: "r1" });
const ours = JSON.stringify({ error: { what: "no", where: "token", todo: "join again" } });

const NOT_OURS = {
  "a login page with status 200": [200, "<html>Welcome to the cafe</html>"],
  "an empty answer": [200, ""],
  "a cut-off answer": [200, good.slice(0, -4)],
  "an answer to another request": [200, JSON.stringify({ protocol: 1, request_id: "r2" })],
  "a JSON list": [200, "[]"],
  "JSON null": [200, "null"],
  "a created page": [201, good],
  "a refusal by a proxy": [403, "<html>Forbidden</html>"],
  "a sign-in demanded by a proxy": [401, "<html>Sign in</html>"],
  "a sign-in to the network": [511, "<html>Sign in</html>"],
  "a failed server": [500, ours],
  "a failed gateway": [502, "bad gateway"],
};

for (const [title, [status, text]] of Object.entries(NOT_OURS)) {
  test(`${title} counts as not connected`, () => {
    assert.equal(classify(status, headers(), text, named).kind, "not-connected");
  });
}

test("the answer to this very request is taken", () => {
  assert.deepEqual(classify(200, headers(), good, named), { kind: "ok", data: JSON.parse(good) });
});

test("a refused token asks for pairing", () => {
  assert.equal(classify(401, headers(), ours, named).kind, "pair-again");
});

test("a refused content says why", () => {
  const answer = classify(422, headers(), ours, named);
  assert.equal(answer.kind, "refused");
  assert.equal(answer.error.what, "no");
});

test("a body over the limit is too large, whoever says so", () => {
  assert.equal(classify(413, headers(), "<html>nginx</html>", named).kind, "too-large");
});

test("a busy server names the pause in seconds", () => {
  assert.deepEqual(classify(503, headers({ "Retry-After": "7" }), "", named), {
    kind: "wait",
    wait_ms: 7000,
  });
});

test("a pause longer than an hour is cut to an hour", () => {
  const far = new Date(Date.now() + 9 * 3_600_000).toUTCString();
  assert.equal(classify(429, headers({ "Retry-After": far }), "", named).wait_ms, 3_600_000);
});

test("an unreadable pause leaves it to the back-off", () => {
  assert.equal(classify(429, headers({ "Retry-After": "soon" }), "", named).wait_ms, null);
});

test("a photo answer without an offset counts as not connected", () => {
  assert.equal(classify(200, headers(), "<html></html>", undefined).kind, "not-connected");
});

for (const offset of ["-1", "1e3", "", "1234567890123"]) {
  test(`a place "${offset}" in a photo is none`, () => {
    const answer = classify(200, headers({ "Upload-Offset": offset }), "", undefined);
    assert.equal(answer.kind, "not-connected");
  });
}

test("a place in a photo counts only with the status of an answer to a piece", () => {
  const said = (status) => classify(status, headers({ "Upload-Offset": "5" }), "", undefined);
  assert.deepEqual(said(200), { kind: "ok", offset: 5 });
  assert.deepEqual(said(204), { kind: "ok", offset: 5 });
  assert.equal(said(500).kind, "not-connected");
});

for (const error of [{ what: 5 }, "no", null]) {
  test(`an error like ${JSON.stringify(error)} is not of our shape`, () => {
    const answer = classify(400, headers(), JSON.stringify({ error }), named);
    assert.deepEqual(answer, { kind: "not-connected" });
  });
}

test("a wrong place of a photo piece comes back with the right one", () => {
  const answer = classify(409, headers({ "Upload-Offset": "32768" }), "", undefined);
  assert.deepEqual(answer, { kind: "offset", offset: 32768 });
});

test("a call that cannot connect rejects nothing and says so", async () => {
  const answer = await call("http://127.0.0.1:9/api/sync/hello", { accepts: () => true });
  assert.equal(answer.kind, "not-connected");
  assert.equal(answer.timed_out, false);
});

test("a larger body may take longer", () => {
  assert.equal(timeoutMs(0), 20_000);
  assert.equal(timeoutMs(50_000), 45_000);
});

test("a quick batch doubles the next one up to 100", () => {
  assert.equal(nextSize(50, 50, { kind: "ok", ms: 300 }), 100);
  assert.equal(nextSize(100, 100, { kind: "ok", ms: 300 }), 100);
});

test("a slow batch keeps its size", () => {
  assert.equal(nextSize(50, 50, { kind: "ok", ms: 2000 }), 50);
});

test("a timeout or a refusal halves what was sent, down to one", () => {
  assert.equal(nextSize(100, 60, { kind: "not-connected", timed_out: true }), 30);
  assert.equal(nextSize(50, 3, { kind: "too-large" }), 1);
  assert.equal(nextSize(1, 1, { kind: "refused" }), 1);
});

test("no connection says nothing about the size", () => {
  assert.equal(nextSize(50, 50, { kind: "not-connected", timed_out: false }), 50);
});

const row = (id, bytes) => ({ id, event: { note: "x".repeat(bytes) } });

test("a batch ends before the byte limit", () => {
  const rows = [row(1, 400), row(2, 400), row(3, 400)];
  assert.deepEqual(
    fillBatch(rows, 50, 1000).map(({ id }) => id),
    [1, 2],
  );
});

test("bytes are counted, not letters", () => {
  const rows = [
    { id: 1, event: { note: "é".repeat(300) } },
    { id: 2, event: { note: "é".repeat(300) } },
  ];
  assert.equal(fillBatch(rows, 50, 1000).length, 1);
});

test("a record over the limit goes alone so that the server can name it", () => {
  assert.deepEqual(
    fillBatch([row(1, 5000), row(2, 10)], 50, 1000).map(({ id }) => id),
    [1],
  );
});

test("a batch has at most as many records as wished", () => {
  assert.equal(fillBatch([row(1, 1), row(2, 1), row(3, 1)], 2).length, 2);
});

test("the pause after failures is anything up to a doubling limit of 15 minutes", () => {
  assert.equal(
    backOffMs(0, () => 0.5),
    1000,
  );
  assert.equal(
    backOffMs(3, () => 1),
    16_000,
  );
  assert.equal(
    backOffMs(30, () => 1),
    900_000,
  );
  assert.equal(
    backOffMs(30, () => 0),
    0,
  );
});

test("a server under a bare number or a network's own name stands near", () => {
  const near = [
    "localhost",
    "127.0.0.1",
    "10.0.0.7",
    "192.168.1.20",
    "[fd12::1]",
    "yard.local",
    "qc.lan",
    "qc.home.arpa",
  ];
  const far = ["stoves.example", "10.example", "local.example", "lan"];
  assert.deepEqual(
    near.filter((name) => !isNearAddress(name)),
    [],
  );
  assert.deepEqual(far.filter(isNearAddress), []);
});
