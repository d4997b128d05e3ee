// The phone's check that a log only grew, against published proofs (tests/reference names the
// source) and against trees made here the slow way.
import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { isConsistent } from "../../../static/phone/js/sync/merkle.js";

const FILE = new URL("../../reference/proofs_consistency.json", import.meta.url);
const { cases } = JSON.parse(readFileSync(FILE, "utf8"));

const sha256 = (...parts) =>
  parts.reduce((hash, part) => hash.update(part), createHash("sha256")).digest();
const leaves = Array.from({ length: 40 }, (_, n) => sha256(Buffer.of(0), String(n)));
const split = (n) => 2 ** (Math.ceil(Math.log2(n)) - 1);

/** RFC 9162 section 2.1.1, word by word. */
function rootOf(list) {
  if (list.length === 0) return sha256();
  if (list.length === 1) return list[0];
  const k = split(list.length);
  return sha256(Buffer.of(1), rootOf(list.slice(0, k)), rootOf(list.slice(k)));
}

/** SUBPROOF of section 2.1.4.1. */
function prove(m, list, isWhole = true) {
  if (m === list.length) return isWhole ? [] : [rootOf(list)];
  const k = split(list.length);
  return m <= k
    ? [...prove(m, list.slice(0, k), isWhole), rootOf(list.slice(k))]
    : [...prove(m - k, list.slice(k), false), rootOf(list.slice(0, k))];
}

const text = (bytes) => bytes.toString("base64");
const tree = (n, list = leaves) => ({ size: n, root: text(rootOf(list.slice(0, n))) });

for (const one of cases) {
  test(`published consistency proof ${one.case}: ${one.desc}`, async () => {
    const old = { size: one.size1, root: one.root1 };
    const fresh = { size: one.size2, root: one.root2 };
    assert.equal(await isConsistent(old, fresh, one.proof ?? []), !one.wantErr);
  });
}

test("every proof of small trees holds, and no other does", async () => {
  for (let size = 1; size <= 20; size += 1)
    for (let old = 1; old <= size; old += 1) {
      const proof = prove(old, leaves.slice(0, size)).map(text);
      assert.ok(await isConsistent(tree(old), tree(size), proof), `${old} ${size}`);
      const others = [[...proof, tree(1).root], proof.slice(1), [...proof].reverse()];
      for (const other of others) {
        if (text(Buffer.from(other.join())) === text(Buffer.from(proof.join()))) continue;
        assert.ok(!(await isConsistent(tree(old), tree(size), other)));
      }
      if (old < size) {
        assert.ok(!(await isConsistent(tree(old), tree(size + 1), proof)));
        assert.ok(!(await isConsistent({ ...tree(old), root: tree(30).root }, tree(size), proof)));
      }
    }
});

test("a log with one entry changed, left out or put in is not one that only grew", async () => {
  const other = sha256("other");
  for (const changed of [
    leaves.with(3, other),
    leaves.toSpliced(3, 1),
    leaves.toSpliced(3, 0, other),
  ]) {
    const proof = prove(20, changed).map(text);
    assert.ok(!(await isConsistent(tree(20), tree(changed.length, changed), proof)));
  }
});

test("nonsense is no proof", async () => {
  for (const proof of [["****"], ["AAAA"], [""], ["x".repeat(44)]])
    assert.equal(await isConsistent(tree(3), tree(8), proof), false);
  assert.equal(await isConsistent({ size: -1, root: tree(1).root }, tree(8), []), false);
  assert.equal(await isConsistent(tree(9), tree(8), []), false);
  assert.equal(await isConsistent({ size: 1.5, root: tree(1).root }, tree(8), []), false);
  assert.equal(await isConsistent(tree(0), tree(8), []), true);
});
