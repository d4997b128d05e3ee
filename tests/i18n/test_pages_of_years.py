"""A page of a yard that has worked for years looks at no more batches than it shows."""

from collections import Counter

import pytest

from qcapp.store.registry import batches

YEARS = 400
# Those that are offered, for the page and for the guide at its head, and the page's own.
MOST_READ = 2 * batches.MAX_CLOSED + 40


@pytest.fixture
def years(filled):
    """The filled yard with many old batches more, taken out again afterwards."""
    store = filled.client.app.state.store
    with store.reading() as connection:
        sold = batches.get_batch(connection, "B5")
    old = [
        {**sold, "code": f"OLD-{n}", "opened_on": "2015-01-05", "closed_at": "2015-02-01T12:00:00Z"}
        for n in range(YEARS)
    ]
    with store.writing() as connection:
        batches.save_batches(connection, old)
    yield filled
    with store.writing() as connection:
        connection.execute(batches.BATCH.delete().where(batches.BATCH.c.code.like("OLD-%")))


def test_every_page_reads_a_bounded_number_of_batches(years, monkeypatch):
    read = Counter()
    decode = batches._read_batch

    def count(row):
        read[address] += 1
        return decode(row)

    monkeypatch.setattr(batches, "_read_batch", count)
    for address in years.addresses:
        years.client.get(address)
    assert max(read.values()) > batches.MAX_CLOSED, "no page offers old batches at all"
    assert {address: n for address, n in read.items() if n > MOST_READ} == {}
