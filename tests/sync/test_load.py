"""Twenty phones at once on one server process: none lost, none twice, nobody starves."""

import pytest

from tests.bench.load import as_table, measure_load

pytestmark = pytest.mark.slow


def test_twenty_phones_at_once_lose_nothing():
    figures = measure_load(phones=20, inspections=50)
    print(as_table(figures))
    assert (figures.lost, figures.twice, figures.still_waiting, figures.failed_calls) == (
        0,
        0,
        0,
        0,
    )
