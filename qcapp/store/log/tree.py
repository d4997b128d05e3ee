"""The Merkle tree over the log (RFC 9162), so that a log can prove to who kept an old checkpoint
that it was only added to.

An entry is a record's id and its hash, what the running hash covers too: the hash is that of the
record's canonical bytes, so the tree binds them as well, a proof shows nobody what a record says,
and a tree is built without reading the records. Of the nodes only every fourth level is stored, a
row for 16 records; the others are made from these when asked for. Both take O(log n) of them.
"""

from collections import deque
from collections.abc import Iterable, Iterator

from sqlalchemy import BindParameter, Connection, bindparam, delete, insert, select

from qcapp.errors import StoreError
from qcapp.i18n.phrase import phrase
from qcapp.store.chunks import CHUNK_SIZE, chunked
from qcapp.store.tables import LOG, TREE_NODE
from qcapp.transparency.merkle import (
    GrowingTree,
    hash_leaf,
    hash_node,
    hash_range,
    list_peaks,
    prove_consistency,
    prove_inclusion,
)

LEVELS_APART = 4
WIDTH = 1 << LEVELS_APART
# Made once: to build a statement takes longer than to run one of these.
FIRST: BindParameter[int] = bindparam("first")
LAST: BindParameter[int] = bindparam("last")
LEAVES = select(LOG.c.seq, LOG.c.id, LOG.c.hash).where(LOG.c.seq.between(FIRST, LAST))
NODES = select(TREE_NODE.c.place, TREE_NODE.c.hash).where(
    TREE_NODE.c.level == bindparam("level"), TREE_NODE.c.place.between(FIRST, LAST)
)


def hash_entry(record_id: str, record_hash: str) -> bytes:
    """The leaf of a record."""
    return hash_leaf((record_id + record_hash).encode("utf-8", "surrogatepass"))


def find_root(connection: Connection, size: int) -> bytes:
    """The root over the first `size` records, which the log must have."""
    return _StoredTree(connection, size).hash_range(0, size)


def find_consistency(connection: Connection, old: int, new: int) -> list[bytes]:
    """Proves that the log of `old` records is the beginning of that of `new`."""
    return prove_consistency(old, new, _StoredTree(connection, new).hash_range)


def find_growth(connection: Connection, old: int | None, new: int) -> tuple[bytes, list[bytes]]:
    """The root over `new` records, and the proof that it grew from `old`; None: no proof."""
    tree = _StoredTree(connection, new)
    proof = prove_consistency(old, new, tree.hash_range) if old is not None else []
    return tree.hash_range(0, new), proof


def find_inclusion(connection: Connection, seq: int, size: int) -> list[bytes]:
    """Proves that record `seq` is in the log of `size` records."""
    return prove_inclusion(seq - 1, size, _StoredTree(connection, size).hash_range)


def extend_tree(connection: Connection, size: int, leaves: list[bytes]) -> None:
    """Stores what became whole as these leaves came after `size` records, already in the log."""
    if size // WIDTH == (size + len(leaves)) // WIDTH:
        return
    stored = _StoredTree(connection, size)
    tree = GrowingTree(size, [stored.find_whole(*peak) for peak in list_peaks(size)])
    rows = [
        {"level": level, "place": place, "hash": node.hex()}
        for leaf in leaves
        for level, place, node in list_stored(tree, leaf)
    ]
    connection.execute(insert(TREE_NODE), rows)


def list_stored(tree: GrowingTree, leaf: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Adds a leaf and gives the nodes that are stored: (level, place, hash)."""
    return (node for node in list(tree.add(leaf)) if node[0] % LEVELS_APART == 0)


def calculate_root(connection: Connection, size: int) -> bytes | None:
    """The root over the first `size` records, from the records alone, whatever nodes are stored;
    None where the log has fewer.
    """
    tree = GrowingTree()
    query = select(LOG.c.id, LOG.c.hash).order_by(LOG.c.seq).limit(size)
    with connection.execute(query.execution_options(yield_per=CHUNK_SIZE)) as records:
        for record in records:
            deque(tree.add(hash_entry(record.id, record.hash)), maxlen=0)
    return tree.get_root() if tree.size == size else None


def build_tree(connection: Connection) -> None:
    """Stores the tree of the whole log anew, reading ids and hashes once."""
    connection.execute(delete(TREE_NODE))
    tree = GrowingTree()
    query = select(LOG.c.id, LOG.c.hash).order_by(LOG.c.seq)
    with connection.execute(query.execution_options(yield_per=CHUNK_SIZE)) as records:
        nodes = (
            {"level": level, "place": place, "hash": node.hex()}
            for record in records
            for level, place, node in list_stored(tree, hash_entry(record.id, record.hash))
        )
        for rows in chunked(nodes):
            connection.execute(insert(TREE_NODE), rows)


class _StoredTree:
    """Nodes of the log's first `size` records, read a row of siblings at a time."""

    def __init__(self, connection: Connection, size: int) -> None:
        self._connection, self._size = connection, size
        self._read: dict[tuple[int, int], bytes] = {}

    def hash_range(self, start: int, stop: int) -> bytes:
        return hash_range(start, stop, self.find_whole)

    def find_whole(self, start: int, stop: int) -> bytes:
        """The root of a whole subtree."""
        level = (stop - start).bit_length() - 1
        if level % LEVELS_APART == 0:
            return self._find_stored(level, start >> level)
        middle = (start + stop) // 2
        return hash_node(self.find_whole(start, middle), self.find_whole(middle, stop))

    def _find_stored(self, level: int, place: int) -> bytes:
        if (level, place) not in self._read:
            first = place - place % WIDTH
            for number, node in self._list_siblings(level, first):
                self._read[level, number] = node
        if (level, place) not in self._read:
            raise StoreError(
                phrase("the tree over the log is not whole"),
                f"{level}/{place}",
                phrase("run qcapp verify --log, then qcapp rebuild"),
            )
        return self._read[level, place]

    def _list_siblings(self, level: int, first: int) -> Iterable[tuple[int, bytes]]:
        if level == 0:
            span = {"first": first + 1, "last": min(first + WIDTH, self._size)}
            rows = self._connection.execute(LEAVES, span)
            return [(row.seq - 1, hash_entry(row.id, row.hash)) for row in rows]
        span = {"level": level, "first": first, "last": first + WIDTH - 1}
        nodes = self._connection.execute(NODES, span)
        return [(row.place, bytes.fromhex(row.hash)) for row in nodes]
