// The phone's reading of tests/vectors: every vector as {name, run}, run() throwing where it differs.
import assert from "node:assert/strict";
import { createHash, createPublicKey, verify } from "node:crypto";
import { readFileSync, readdirSync } from "node:fs";

import { canonicalJson, eventHash } from "../../../static/phone/js/inspection/event.js";
import {
  doubtSerial,
  findSerialNumber,
  readSerial,
  serialKey,
} from "../../../static/phone/js/inspection/serial.js";
import { foldStove } from "../../../static/phone/js/inspection/stove.js";
import { neededChecks } from "../../../static/phone/js/inspection/draft.js";
import {
  allowedDispositions,
  needsReason,
  proposeDisposition,
} from "../../../static/phone/js/inspection/disposition.js";
import { countsAsFail, hindersRelease, judgeAnswers } from "../../../static/phone/js/inspection/judge.js";
import { parseNumber } from "../../../static/phone/js/inspection/number.js";
import { signedBytes, toBase64Url } from "../../../static/phone/js/inspection/signature.js";

const VECTORS = new URL("../../vectors/", import.meta.url);
const SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const sha256 = (bytes) => createHash("sha256").update(bytes).digest("hex");

function runNumber(_, vector) {
  assert.equal(parseNumber(vector.text), vector.canonical);
}

function runJudge(given, vector) {
  const check = { when: {}, ...given.check };
  const inputs = (given.inputs ?? []).map((input) => ({ when: {}, ...input }));
  const own = "answer" in vector ? { [check.id]: vector.answer } : {};
  const context = { size: given.size ?? "medium", batch: given.batch ?? {} };
  const judged = judgeAnswers({ checks: [check, ...inputs] }, vector.answers ?? own, context)[
    check.id
  ];
  const { verdict, reason, value } = vector;
  assert.deepEqual(judged, { verdict, reason, value });
  if ("counts_as_fail" in vector) assert.equal(countsAsFail(check, verdict), vector.counts_as_fail);
  if ("hinders_release" in vector)
    assert.equal(hindersRelease(check, judged), vector.hinders_release);
}

function runDisposition(_, vector) {
  if ("has_skipped" in vector) {
    assert.equal(proposeDisposition(vector.allowed, vector.has_skipped), vector.proposed);
  } else if ("allowed" in vector) {
    assert.deepEqual(
      allowedDispositions(vector.failed_severities, vector.has_missing),
      vector.allowed,
    );
  } else if ("needed" in vector) {
    assert.deepEqual(neededChecks(vector.checks, vector.is_short), vector.needed);
  } else {
    assert.equal(needsReason(vector.disposition), vector.needs_reason);
  }
}

function runEvent(_, vector) {
  if ("hash" in vector) assert.equal(eventHash(vector.event, sha256), vector.hash);
  else if (vector.canonical === null) assert.throws(() => canonicalJson(vector.value), TypeError);
  else assert.equal(canonicalJson(vector.value), vector.canonical);
}

/** The phone only signs; what it signs is checked as the browser's own verify does it. */
function runSignature({ public_key }, { hash, text, signature, is_good }) {
  if (hash) assert.equal(new TextDecoder().decode(signedBytes(hash)), text);
  const point = Buffer.from(public_key, "base64url");
  assert.equal(toBase64Url(point), public_key);
  const [x, y] = [point.subarray(1, 33), point.subarray(33)].map((half) => half.toString("base64url"));
  const key = createPublicKey({ key: { kty: "EC", crv: "P-256", x, y }, format: "jwk" });
  const given = Buffer.from(signature, "base64url");
  const how = { key, dsaEncoding: "ieee-p1363" };
  assert.equal(verify("sha256", Buffer.from(text), how, given), is_good);
}

function runFold(_, vector) {
  const { inspections, disposition, corrected_twice, decided = null } = vector;
  const state = foldStove(vector.events);
  const { newest = state.newest } = vector;
  assert.deepEqual(state, { inspections, disposition, newest, decided, corrected_twice });
}

// The phone makes no tags, it only takes the one sign of 36 that the server sets behind a serial.
function runSerial(_, vector) {
  if ("key" in vector) {
    assert.equal(serialKey(vector.key), vector.key, "a key is its own key");
    return assert.equal(serialKey(vector.serial), vector.key);
  }
  if ("number" in vector) {
    const { serial, prefix: serial_prefix, planned, number, doubt } = vector;
    assert.equal(findSerialNumber(serial, serial_prefix), number);
    return assert.equal(doubtSerial(serial, { serial_prefix, planned }), doubt);
  }
  const read = (typed, prefix, checked_serials) =>
    readSerial(typed, { serial_prefix: prefix, attributes: { checked_serials } });
  if (!("tag" in vector))
    return assert.equal(read(vector.typed, vector.prefix, vector.is_checked), vector.serial);
  const taken = Array.from(SIGNS, (sign) => `${vector.serial}.${sign}`).filter(
    (tag) => read(tag, "", true) !== null,
  );
  return assert.deepEqual(taken, vector.tag ? [vector.tag] : []);
}

const RUNNERS = {
  number: runNumber,
  judge: runJudge,
  disposition: runDisposition,
  event: runEvent,
  fold: runFold,
  signature: runSignature,
  serial: runSerial,
};

function readFolder(folder) {
  return readdirSync(new URL(`${folder}/`, VECTORS))
    .sort()
    .map((file) => {
      const text = readFileSync(new URL(`${folder}/${file}`, VECTORS), "utf8");
      return { folder, file: `${folder}/${file}`, cases: JSON.parse(text) };
    });
}

/** Every vector of every folder; a folder without a reading here throws. */
export function listVectors() {
  return readdirSync(VECTORS, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map(({ name }) => name)
    .sort()
    .flatMap(readFolder)
    .flatMap(({ folder, file, cases }) =>
      cases.flatMap((given) =>
        given.tests.map((vector) => ({
          file,
          name: `${file}: ${given.description}: ${vector.description}`,
          run: () => RUNNERS[folder](given, vector),
        })),
      ),
    );
}
