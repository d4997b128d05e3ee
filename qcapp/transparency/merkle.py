"""The Merkle tree of RFC 9162 section 2.1 over a list that only grows: its root, and proofs that an
entry is in it or that an earlier tree is its beginning.

Hashes are 32 bytes (SHA-256). Entries are numbered from 0; a tree of n entries covers [0, n).
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence

EMPTY_ROOT = hashlib.sha256(b"").digest()
# The root over the entries [start, stop).
HashRange = Callable[[int, int], bytes]


def hash_leaf(entry: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + entry).digest()


def hash_node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


class GrowingTree:
    """A tree built entry by entry. peaks: roots of its whole subtrees, the largest first: one for
    each binary digit 1 of size.
    """

    def __init__(self, size: int = 0, peaks: Sequence[bytes] = ()) -> None:
        self.size, self._peaks = size, list(peaks)

    def add(self, leaf: bytes) -> Iterator[tuple[int, int, bytes]]:
        """Adds a leaf's hash; gives each subtree that became whole: (level, place, root). A subtree
        of a level covers 2^level entries; place counts those of its level from 0.
        """
        node, place, level = leaf, self.size, 0
        while place % 2:
            node, place, level = hash_node(self._peaks.pop(), node), place // 2, level + 1
            yield level, place, node
        self._peaks.append(node)
        self.size += 1

    def get_root(self) -> bytes:
        if not self._peaks:
            return EMPTY_ROOT
        *others, root = self._peaks
        for peak in reversed(others):
            root = hash_node(peak, root)
        return root


def list_peaks(size: int) -> Iterator[tuple[int, int]]:
    """(start, stop) of the whole subtrees of a tree, the largest first."""
    start = 0
    for level in range(size.bit_length() - 1, -1, -1):
        if size >> level & 1:
            yield start, start + (1 << level)
            start += 1 << level


def get_split(size: int) -> int:
    """The largest power of two below size (size > 1): where RFC 9162 divides a tree."""
    return 1 << (size - 1).bit_length() - 1


def hash_range(start: int, stop: int, find_whole: Callable[[int, int], bytes]) -> bytes:
    """The root over [start, stop), which begins where a subtree does. find_whole: of whole ones."""
    if start == stop:
        return EMPTY_ROOT
    parts = [find_whole(start + first, start + last) for first, last in list_peaks(stop - start)]
    root = parts.pop()
    while parts:
        root = hash_node(parts.pop(), root)
    return root


def prove_inclusion(index: int, size: int, root_of: HashRange) -> list[bytes]:
    """The audit path of entry `index` in the tree of `size` entries (section 2.1.3.1)."""
    start, stop, path = 0, size, []
    while stop - start > 1:
        middle = start + get_split(stop - start)
        if index < middle:
            path.append(root_of(middle, stop))
            stop = middle
        else:
            path.append(root_of(start, middle))
            start = middle
    return path[::-1]


def prove_consistency(old: int, new: int, root_of: HashRange) -> list[bytes]:
    """That the tree of `old` entries is the beginning of that of `new` (section 2.1.4.1).

    0 <= old <= new; nothing is to be proven of an empty or an equal tree.
    """
    if old in (0, new):
        return []
    start, stop, proof, is_left_edge = 0, new, [], True
    while stop - start > 1 and old != stop:
        middle = start + get_split(stop - start)
        if old <= middle:
            proof.append(root_of(middle, stop))
            stop = middle
        else:
            proof.append(root_of(start, middle))
            start, is_left_edge = middle, False
    # The old tree's own root is known to who asks; any other whole piece of it is not.
    if not is_left_edge:
        proof.append(root_of(start, stop))
    return proof[::-1]


def is_included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Checks an audit path (section 2.1.3.2)."""
    if not 0 <= index < size or not _are_hashes((leaf, root, *proof)):
        return False
    place, last, found = index, size - 1, leaf
    for other in proof:
        if last == 0:
            return False
        if place % 2 or place == last:
            found = hash_node(other, found)
            while place and not place % 2:
                place, last = place >> 1, last >> 1
        else:
            found = hash_node(found, other)
        place, last = place >> 1, last >> 1
    return last == 0 and found == root


def is_consistent(
    old: int, new: int, proof: Sequence[bytes], old_root: bytes, new_root: bytes
) -> bool:
    """Checks that the new tree begins with the old one (section 2.1.4.2)."""
    if not 0 <= old <= new or not _are_hashes((old_root, new_root, *proof)):
        return False
    if old in (0, new):
        is_same = old_root == (EMPTY_ROOT if old == 0 else new_root)
        return is_same and not proof
    path = list(proof) if old & (old - 1) else [old_root, *proof]
    if not path:
        return False
    place, last = old - 1, new - 1
    while place % 2:
        place, last = place >> 1, last >> 1
    first = second = path[0]
    for other in path[1:]:
        if last == 0:
            return False
        if place % 2 or place == last:
            first, second = hash_node(other, first), hash_node(other, second)
            while place and not place % 2:
                place, last = place >> 1, last >> 1
        else:
            second = hash_node(second, other)
        place, last = place >> 1, last >> 1
    return last == 0 and first == old_root and second == new_root


def _are_hashes(values: Sequence[bytes]) -> bool:
    return all(len(value) == hashlib.sha256().digest_size for value in values)
