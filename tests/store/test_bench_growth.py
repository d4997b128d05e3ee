"""What a page reads does not grow with the years: steps of the database's own machine, which are
the same on every computer, before and after the yard's past is doubled once more.
"""

from datetime import UTC, datetime
from itertools import count

import pytest
from sqlalchemy import event, text

from qcapp.app import create_app
from tests.bench.pages import COPIES, PAGES, find_artisan, grow
from tests.builders import make_cookie, open_client, open_yard
from tests.filled_demo import fill_demo

# Twice where everything is read.
MOST_GROWTH = 1.3
# The start page lists what waits, and every copied batch has stoves that wait.
STEADY = [page for page in PAGES if page != "/"]
EVERY = 100


def test_a_yard_is_doubled_row_by_row():
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001"))
    yard.push(yard.phone.inspect("B1-002", width="120", disposition="rework"))
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


@pytest.mark.slow
def test_no_page_reads_more_when_the_past_is_twice_as_long(tmp_path):
    now = datetime.now(UTC)
    app = create_app(fill_demo(tmp_path / "yard.sqlite3", now))
    store = app.state.store
    with open_client(app, cookie=make_cookie(store, now=now)) as client:
        stoves, copies = read_counts(store)["stove"], count()
        # So many batches that a list of them is full.
        grow(store, 8 * stoves, copies)
        before = count_steps(store, client)
        grow(store, 16 * stoves, copies)
        after = count_steps(store, client)
    assert min(before.values()) > 0
    growth = {page: after[page] / before[page] for page in STEADY}
    assert {page: ratio for page, ratio in growth.items() if ratio > MOST_GROWTH} == {}


def count_steps(store, client) -> dict[str, int]:
    """Hundreds of virtual machine steps that each page takes, asked for the second time."""
    steps = [0]

    def watch(connection, *_rest) -> None:
        connection.set_progress_handler(lambda: steps.__setitem__(0, steps[0] + 1), EVERY)

    event.listen(store.engine, "checkout", watch)
    found = {}
    for page in PAGES:
        address = page.format(artisan=find_artisan(store), batch="B1")
        for _ in range(2):
            steps[0] = 0
            assert client.get(address).status_code == 200
        found[page] = steps[0]
    event.remove(store.engine, "checkout", watch)
    return found
