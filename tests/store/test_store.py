"""The database file: its shape by migration, strict transactions, published revisions."""

import pytest
from sqlalchemy import create_engine, inspect
from sqlmodel import SQLModel

from qcapp.checklist.model import Checklist
from qcapp.errors import Clash, StoreError
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry.checklists import list_current_checklists, publish_checklist
from qcapp.store.timestamps import format_timestamp, parse_timestamp
from qcapp.store.upkeep.migrate import migrate
from tests.builders import build_small_checklist, open_small_store


def describe(engine):
    found = inspect(engine)
    return {
        table: (
            sorted((c["name"], str(c["type"]), c["nullable"]) for c in found.get_columns(table)),
            found.get_pk_constraint(table)["constrained_columns"],
            sorted((i["name"], tuple(i["column_names"])) for i in found.get_indexes(table)),
            sorted(tuple(u["column_names"]) for u in found.get_unique_constraints(table)),
        )
        for table in found.get_table_names()
        if table != "alembic_version"
    }


def test_migrated_shape_is_the_shape_of_the_tables(tmp_path):
    store = Store(f"sqlite:///{tmp_path / 'a.db'}")
    migrate(store)
    migrate(store)
    fresh = create_engine("sqlite://")
    SQLModel.metadata.create_all(fresh)
    assert describe(store.engine) == describe(fresh)


def test_write_ahead_log_full_sync_and_foreign_keys_are_on(tmp_path):
    store, _ = open_small_store(tmp_path / "a.db")
    with store.reading() as connection:
        pragmas = [
            connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert pragmas == ["wal", 2, 1]


def test_failed_writing_leaves_nothing_behind(tmp_path):
    store, _ = open_small_store(tmp_path / "a.db")
    with (  # noqa: PT012  (the cut comes amid the writing)
        pytest.raises(RuntimeError, match="power cut"),
        store.writing() as connection,
    ):
        log.append(
            connection,
            [log.Entry("i", "h", "counted", None, "void", "d", 1, None, None, "{}")],
            received_at="t",
            relayed_by=None,
            clock_offset_ms=None,
        )
        raise RuntimeError("power cut")
    with store.reading() as connection:
        assert log.get_head(connection).seq == 0


def test_read_only_database_says_what_to_do(tmp_path):
    path = tmp_path / "a.db"
    open_small_store(path)[0].close()
    store = Store(f"sqlite:///file:{path}?mode=ro&uri=true")
    with pytest.raises(StoreError) as caught, store.writing() as connection:
        connection.exec_driver_sql("DELETE FROM meta")
    assert "phones keep their work" in caught.value.todo


def test_published_revision_cannot_be_edited():
    store, checklist = open_small_store()
    edited = Checklist.from_compiled({**checklist.compiled(), "title": {"en": "Other"}})
    with store.writing() as connection:
        publish_checklist(connection, checklist, origin="file", now="t")
        with pytest.raises(Clash) as caught:
            publish_checklist(connection, edited, origin="file", now="t")
    assert "revision: 2" in caught.value.todo


def test_newest_file_revision_is_current_and_a_phones_is_not():
    store, _ = open_small_store()
    second, third = build_small_checklist(2), build_small_checklist(3)
    with store.writing() as connection:
        publish_checklist(connection, third, origin="phone", now="t")
        publish_checklist(connection, second, origin="file", now="t")
        assert [checklist.revision for checklist in list_current_checklists(connection)] == [2]
        publish_checklist(connection, third, origin="file", now="t")
        assert [checklist.revision for checklist in list_current_checklists(connection)] == [3]


def test_moment_without_a_zone_is_no_moment():
    """Read as this machine's own time, a phone's clock would seem hours off."""
    assert format_timestamp(parse_timestamp("2026-11-25T10:00:00+02:00")) == (
        "2026-11-25T08:00:00.000Z"
    )
    with pytest.raises(ValueError, match="no time zone"):
        parse_timestamp("2026-11-25T10:00:00")
