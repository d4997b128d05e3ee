"""The Merkle tree against published roots and proofs (tests/reference/proofs*.json name the
sources), and every proof of small trees against a tree made the slow way.
"""

import base64
import hashlib
import itertools
import json
from pathlib import Path

import pytest

from qcapp.transparency.merkle import (
    EMPTY_ROOT,
    GrowingTree,
    hash_leaf,
    hash_node,
    hash_range,
    is_consistent,
    is_included,
    prove_consistency,
    prove_inclusion,
)

REFERENCE = Path(__file__).parents[1] / "reference"
ROOTS = json.loads((REFERENCE / "proofs.json").read_text())["merkle_roots"]
INCLUSION = json.loads((REFERENCE / "proofs_inclusion.json").read_text())["cases"]
CONSISTENCY = json.loads((REFERENCE / "proofs_consistency.json").read_text())["cases"]
LEAVES = [hash_leaf(bytes.fromhex(text)) for text in ROOTS["leaves_hex"]]
MANY = [hash_leaf(str(n).encode()) for n in range(70)]


def root_slowly(leaves: list[bytes]) -> bytes:
    """RFC 9162 section 2.1.1, word by word."""
    if not leaves:
        return hashlib.sha256().digest()
    if len(leaves) == 1:
        return leaves[0]
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hash_node(root_slowly(leaves[:k]), root_slowly(leaves[k:]))


def root_of(start: int, stop: int) -> bytes:
    return root_slowly(MANY[start:stop])


def decode(texts) -> list[bytes]:
    return [base64.b64decode(text) for text in texts or ()]


@pytest.mark.parametrize("size", range(9))
def test_roots_are_the_published_ones(size):
    tree = GrowingTree()
    for leaf in LEAVES[:size]:
        list(tree.add(leaf))
    assert tree.get_root().hex() == ROOTS["roots_by_size"][size]
    assert root_slowly(LEAVES[:size]).hex() == ROOTS["roots_by_size"][size]


@pytest.mark.parametrize("case", INCLUSION, ids=lambda case: case["case"])
def test_published_inclusion_proofs_good_and_damaged(case):
    leaf, root = base64.b64decode(case["leafHash"] or ""), base64.b64decode(case["root"] or "")
    good = is_included(leaf, case["leafIdx"], case["treeSize"], decode(case["proof"]), root)
    assert good is not case["wantErr"]


@pytest.mark.parametrize("case", CONSISTENCY, ids=lambda case: case["case"])
def test_published_consistency_proofs_good_and_damaged(case):
    old_root, new_root = decode([case["root1"], case["root2"]])
    proof = decode(case["proof"])
    good = is_consistent(case["size1"], case["size2"], proof, old_root, new_root)
    assert good is not case["wantErr"]


@pytest.mark.parametrize("case", CONSISTENCY, ids=lambda case: case["case"])
def test_published_consistency_proofs_are_made_alike(case):
    if not case["wantErr"]:
        made = prove_consistency(
            case["size1"], case["size2"], lambda a, b: root_slowly(LEAVES[a:b])
        )
        assert made == decode(case["proof"])


def test_a_grown_tree_has_the_root_and_the_whole_subtrees_of_one_made_at_once():
    tree = GrowingTree()
    for size, leaf in enumerate(MANY, 1):
        for level, place, node in tree.add(leaf):
            assert node == root_of(place << level, place + 1 << level)
        assert tree.get_root() == root_of(0, size)


def test_whole_subtrees_give_every_range_that_a_proof_asks():
    for start, stop in ((0, 0), (0, 7), (8, 13), (32, 70), (64, 70)):
        assert hash_range(start, stop, root_of) == root_of(start, stop)


def test_every_proof_of_small_trees_holds_and_no_other_does():
    for new in range(34):
        new_root = root_of(0, new)
        for old in range(new + 1):
            proof, old_root = prove_consistency(old, new, root_of), root_of(0, old)
            assert is_consistent(old, new, proof, old_root, new_root)
            assert not is_consistent(old, new, [*proof, EMPTY_ROOT], old_root, new_root)
            assert not proof or not is_consistent(old, new, proof[:-1], old_root, new_root)
            if old > 0:
                assert not is_consistent(old, new, proof, EMPTY_ROOT, new_root)
                assert not is_consistent(old, new, proof, old_root, EMPTY_ROOT)
        for index in range(new):
            path = prove_inclusion(index, new, root_of)
            assert is_included(MANY[index], index, new, path, new_root)
            assert not is_included(EMPTY_ROOT, index, new, path, new_root)
            assert not is_included(MANY[index], index, new, [*path, EMPTY_ROOT], new_root)


def test_a_log_with_one_entry_changed_left_out_or_put_in_is_not_consistent():
    for changed in (
        [*MANY[:3], MANY[60], *MANY[4:40]],
        [*MANY[:3], *MANY[4:40]],
        [*MANY[:3], MANY[60], *MANY[3:40]],
        [MANY[1], MANY[0], *MANY[2:40]],
    ):

        def root_there(start: int, stop: int, leaves: list[bytes] = changed) -> bytes:
            return root_slowly(leaves[start:stop])

        size = len(changed)
        for old in range(5, 39):
            proof = prove_consistency(old, size, root_there)
            assert not is_consistent(old, size, proof, root_of(0, old), root_there(0, size))


def test_nonsense_is_no_proof():
    root = root_of(0, 8)
    for old, new in itertools.product((-1, 0, 3, 8, 9, 2**70), repeat=2):
        if old not in (0, new) or old < 0:
            assert not is_consistent(old, new, [], root, root)
    assert not is_consistent(3, 8, [b"short"], root, root)
    assert not is_included(MANY[0], 0, 8, [b""] * 3, root)
    assert not is_included(MANY[0], -1, 8, prove_inclusion(0, 8, root_of), root)
