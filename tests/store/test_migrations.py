"""When a database is brought to the newest shape, and which shapes are known.

That the shape is the one of the tables stands in test_store.py and test_postgresql.py.
"""

import pytest
from sqlalchemy import inspect
from sqlmodel import SQLModel

from qcapp.store.engine import Store
from qcapp.store.upkeep.migrate import is_known_revision, is_newest_shape, migrate


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
