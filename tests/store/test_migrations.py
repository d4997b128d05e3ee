"""When a database is brought to the newest shape, and which shapes are known.

That the shape is the one of the tables stands in test_store.py and test_postgresql.py.
"""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import inspect
from sqlmodel import SQLModel

from qcapp.errors import StartError, StoreError
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.upkeep import migration_copy
from qcapp.store.upkeep.backup import check_database
from qcapp.store.upkeep.migrate import (
    _build_config,
    is_known_revision,
    is_newest_shape,
    migrate,
)
from qcapp.store.upkeep.migration_copy import copy_before_migration
from qcapp.store.upkeep.put_back import read_shape
from qcapp.usecases.open_store import open_store
from tests.builders import open_small_store

NOW = datetime(2026, 11, 30, 9, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    return Store(f"sqlite:///{tmp_path / 'a.db'}")


def test_an_empty_database_is_brought_to_the_newest_shape(store):
    assert not is_newest_shape(store)
    migrate(store)
    assert is_newest_shape(store)


def test_columns_stand_in_the_order_of_the_models(store):
    """`select *` of a person who looks in with another program reads as the documentation does."""
    migrate(store)
    found = inspect(store.engine)
    for table in SQLModel.metadata.sorted_tables:
        columns = [column["name"] for column in found.get_columns(table.name)]
        assert columns == [column.name for column in table.columns], table.name


def test_the_shape_of_a_newer_program_is_not_known():
    assert is_known_revision("0001")
    assert not is_known_revision("9999") and not is_known_revision(None)


def bring_to(store, shape):
    config = _build_config()
    with store.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, shape)
        connection.exec_driver_sql("INSERT INTO meta VALUES ('server_id', 'S')")


def list_shapes():
    """From the first to the newest."""
    steps = ScriptDirectory.from_config(_build_config()).walk_revisions()
    return [step.revision for step in steps][::-1]


@pytest.mark.parametrize("shape", list_shapes()[:-1])
def test_before_a_shape_changes_a_checked_copy_of_the_old_one_is_made(tmp_path, shape):
    url = f"sqlite:///{tmp_path / 'a.db'}"
    with closing(Store(url)) as store:
        bring_to(store, shape)
        copy = copy_before_migration(store, NOW)
        migrate(store)
        assert is_newest_shape(store) and copy_before_migration(store, NOW) is None
    assert read_shape(copy) == shape and check_database(copy).server_id == "S"
    assert list(tmp_path.glob("*before*")) == [copy]


def test_whoever_opens_a_yard_makes_that_copy(tmp_path):
    url = f"sqlite:///{tmp_path / 'a.db'}"
    with closing(Store(url)) as store:
        bring_to(store, list_shapes()[-2])
    open_store(Settings(database_url=url), lambda: NOW).close()
    assert read_shape(tmp_path / "a.db") == list_shapes()[-1]
    (copy,) = tmp_path.glob("a.before-*.db")
    assert read_shape(copy) == list_shapes()[-2]


def test_a_new_database_and_one_of_todays_shape_are_not_copied(store, tmp_path):
    assert copy_before_migration(store, NOW) is None
    with store.writing() as connection:
        config = _build_config()
        config.attributes["connection"] = connection
        command.upgrade(config, list_shapes()[0])
    assert copy_before_migration(store, NOW) is None, "no yard was ever in it"
    migrate(store)
    assert copy_before_migration(store, NOW) is None
    assert copy_before_migration(open_small_store()[0], NOW) is None
    assert not list(tmp_path.glob("*before*"))


def test_without_room_for_the_copy_the_shape_stays_as_it_is(tmp_path, monkeypatch):
    def refuse(_url, target):
        raise StoreError("the copy could not be written", str(target), "free some space")

    monkeypatch.setattr(migration_copy, "back_up", refuse)
    url = f"sqlite:///{tmp_path / 'a.db'}"
    with closing(Store(url)) as store:
        bring_to(store, list_shapes()[-2])
    with pytest.raises(StoreError, match="could not be written"):
        open_store(Settings(database_url=url))
    assert read_shape(tmp_path / "a.db") == list_shapes()[-2]


def test_a_database_of_a_newer_program_is_refused_in_words(tmp_path):
    open_small_store(tmp_path / "a.db")[0].close()
    with closing(sqlite3.connect(tmp_path / "a.db")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999next'")
        connection.commit()
    with pytest.raises(StartError, match="newer version of this program"):
        open_store(Settings(database_url=f"sqlite:///{tmp_path / 'a.db'}"))
    assert read_shape(tmp_path / "a.db") == "9999next"
