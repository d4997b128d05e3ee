"""The bench of large yards copies the rows of a filled one, with every column that a table has."""

from itertools import count

from sqlalchemy import text

from tests.bench.pages import COPIES, grow
from tests.builders import open_yard


def test_a_yard_is_doubled_row_by_row():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="120", disposition="rework"),
    )
    before = read_counts(yard.store)
    assert min(before.values()) > 0
    grow(yard.store, 3, count())
    assert read_counts(yard.store) == {table: 2 * n for table, n in before.items()}


def read_counts(store) -> dict[str, int]:
    with store.reading() as connection:
        return {
            table: connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one()
            for table in COPIES
        }
