"""The tree over the log: whatever the pushes were, it is the tree of RFC 9162 over all records."""

import random

import pytest
from sqlalchemy import event, func, insert, select, text

from qcapp.errors import StoreError
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.log.tree import LEVELS_APART, WIDTH, hash_entry
from qcapp.store.tables import LOG, TREE_NODE
from qcapp.store.upkeep.migrate import migrate
from qcapp.transparency.merkle import EMPTY_ROOT, GrowingTree, is_consistent, is_included
from qcapp.usecases.rebuild_figures import rebuild_figures
from tests.builders import open_small_store
from tests.transparency.test_merkle import root_slowly

NOW = "2026-11-25T09:00:00.000Z"


def build_entry(number: int) -> log.Entry:
    return log.Entry(
        f"id-{number}",
        f"{number:064x}",
        "counted",
        None,
        "trail",
        "server",
        number,
        None,
        None,
        "{}",
    )


def append(connection, first: int, count: int) -> None:
    entries = [build_entry(first + n) for n in range(count)]
    log.append(connection, entries, received_at=NOW, relayed_by=None, clock_offset_ms=None)


def list_leaves(size: int) -> list[bytes]:
    return [hash_entry(f"id-{n}", f"{n:064x}") for n in range(1, size + 1)]


def read_nodes(connection) -> list[tuple]:
    query = select(TREE_NODE).order_by(TREE_NODE.c.level, TREE_NODE.c.place)
    return [tuple(row) for row in connection.execute(query)]


@pytest.fixture
def store():
    return open_small_store()[0]


def test_tree_is_the_same_however_the_records_came(store):
    """Pieces of every size, over the borders of two stored levels."""
    draw, size = random.Random(7), 0
    with store.writing() as connection:
        assert log.find_root(connection, 0) == EMPTY_ROOT
        while size < 700:
            count = draw.choice((1, 1, 2, 15, 16, 17, 100))
            append(connection, size + 1, count)
            size += count
            assert log.find_root(connection, size) == root_slowly(list_leaves(size))
        kept = read_nodes(connection)
        log.build_tree(connection)
        assert read_nodes(connection) == kept
        assert {level for level, _place, _hash in kept} == {LEVELS_APART, 2 * LEVELS_APART}


def test_any_earlier_log_is_shown_to_be_the_beginning_and_any_record_to_be_in_it(store):
    size = 300
    leaves = list_leaves(size)
    with store.writing() as connection:
        append(connection, 1, size)
        roots = {n: log.find_root(connection, n) for n in range(size + 1)}
        for old in (0, 1, 15, 16, 17, 100, 255, 256, 257, 299, 300):
            assert roots[old] == root_slowly(leaves[:old])
            proof = log.find_consistency(connection, old, size)
            assert is_consistent(old, size, proof, roots[old], roots[size])
            assert len(proof) <= size.bit_length() + 1
        for seq in (1, 16, 17, 256, 257, 300):
            path = log.find_inclusion(connection, seq, size)
            assert is_included(leaves[seq - 1], seq - 1, size, path, roots[size])


def test_a_push_costs_a_row_for_sixteen_records_and_mostly_no_question_more(store):
    said = []
    event.listen(store.engine, "before_cursor_execute", lambda *call: said.append(call[2]))
    with store.writing() as connection:
        append(connection, 1, 10)
        said.clear()
        append(connection, 11, 1)
        assert not [one for one in said if "tree_node" in one]
        append(connection, 12, 5000)
        rows = connection.execute(select(func.count()).select_from(TREE_NODE)).scalar()
        assert rows == 5011 // WIDTH + 5011 // WIDTH**2 + 5011 // WIDTH**3
        said.clear()
        log.find_root(connection, 5011)
        log.find_consistency(connection, 4001, 5011)
        assert len(said) <= 12


# Of the step after the tree's.
LATER_TABLES = (
    *("tree_node", "revision_drawing", "drawing", "seen_checkpoint"),
    *("device_key", "card_link", "lesson_media"),
)
LATER_COLUMNS = (
    ("log", "signature"),
    ("device", "restart_of"),
    ("device", "restart_hash"),
    ("device", "key_changed_at"),
    ("device", "copied_number"),
    ("device", "copied_at"),
)


def test_log_of_an_older_version_gets_its_tree_at_the_migration(tmp_path):
    store, _checklist = open_small_store(tmp_path / "old.db")
    with store.writing() as connection:
        append(connection, 1, 600)
        expected, nodes = log.find_root(connection, 600), read_nodes(connection)
        for table in LATER_TABLES:
            connection.execute(text(f"DROP TABLE {table}"))
        for index in ("ix_device_restart_of", "ix_device_restart_hash", "tally_step_day"):
            connection.execute(text(f"DROP INDEX {index}"))
        for table, column in LATER_COLUMNS:
            connection.execute(text(f"ALTER TABLE {table} DROP COLUMN {column}"))
        connection.execute(text("UPDATE alembic_version SET version_num = '0005draft'"))
    store.close()
    again = Store(store.url)
    migrate(again)
    with again.reading() as connection:
        assert read_nodes(connection) == nodes
        assert log.find_root(connection, 600) == expected
    again.close()


def test_tree_that_is_not_whole_is_said_and_made_again_by_a_rebuild(store):
    with store.writing() as connection:
        append(connection, 1, 40)
        expected = log.find_root(connection, 40)
        connection.execute(TREE_NODE.delete())
    with store.reading() as connection, pytest.raises(StoreError, match="not whole"):
        log.find_root(connection, 40)
    with store.writing() as connection:
        # Links of the running hash were not made by a phone's push here; they fit all the same.
        assert log.find_broken_link(connection) is None
    rebuild_figures(store, lambda _done, _total: None)
    with store.reading() as connection:
        assert log.find_root(connection, 40) == expected


@pytest.mark.slow
def test_tree_of_a_hundred_thousand_records_is_built_streaming(store):
    """The same root as one grown in memory; no record is held."""
    size = 100_000
    tree = GrowingTree()
    rows = []
    for n in range(1, size + 1):
        entry = vars(build_entry(n)) | {"seq": n, "chain": "", "received_at": NOW}
        rows.append(entry)
        list(tree.add(hash_entry(f"id-{n}", f"{n:064x}")))
    with store.writing() as connection:
        connection.execute(insert(LOG), rows)
        log.build_tree(connection)
        assert log.find_root(connection, size) == tree.get_root()
