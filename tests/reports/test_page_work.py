"""What a page costs, counted: the same on every machine, however busy it is. Times are in
tests/bench/MEASURED.md.
"""

from collections import Counter
from contextlib import contextmanager
from unittest import mock

import pytest
import scipy
from sqlalchemy import event

from qcapp.stats import agreement, misclassification, uncertainty
from qcapp.stats.seeded_draws import start_draws

pytestmark = pytest.mark.slow

# Statements to the database, the transactions' own BEGIN left out: the most that each may send.
STATEMENTS = {
    "/": 19,
    "/trainer": 19,
    "/trainer/steps": 14,
    "/trainer/inspectors": 14,
    "/trainer/artisans/A08": 19,
    "/trainer/steps/finished-stove/cut-door-opening": 25,
    # Three of them: stoves with photos, their records, which photos are here.
    "/trainer/faults": 15,
    "/trainer/lessons": 11,
    "/trainer/skills": 13,
    "/trainer/pieces": 15,
    "/trainer/escapes": 17,
    # Three of them: the checklists, which tell the order of stages.
    "/batches": 8,
    # Three of them: the checklists, as above; two: which first passes keep a photo, which photos of
    # held ones are here.
    "/batches/B5": 44,
    "/batches/B5/figures": 21,
    "/batches/B5/figures?checklist=fired-liner": 17,
    "/api/batches/B5": 39,
    # Three of them: stoves with photos, their records, the checklists.
    "/yard/limits": 8,
    "/yard/pace": 11,
}
KEPT = (
    misclassification._find_look_errors,
    misclassification._correct_rate,
    agreement._agree_by_weight,
    uncertainty._find_risks,
    uncertainty._find_share,
)


@contextmanager
def counting(store):
    """Filled while open: statements, draws begun, integrals."""
    found = Counter()

    def note(_connection, _cursor, statement, *_rest):
        found["statements"] += not statement.startswith("BEGIN")

    def start(stream=0):
        found["draws"] += 1
        return start_draws(stream)

    integrate = scipy.integrate.quad

    def add_up(*given, **options):
        found["integrals"] += 1
        return integrate(*given, **options)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        with (
            mock.patch.object(misclassification, "start_draws", start),
            mock.patch.object(agreement, "start_draws", start),
            mock.patch.object(scipy.integrate, "quad", add_up),
        ):
            yield found
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


@pytest.mark.parametrize("address", STATEMENTS)
def test_page_sends_few_statements_and_draws_nothing_twice(demo_yard, address):
    client = demo_yard[0]
    first = client.get(address)
    with counting(client.app.state.store) as found:
        again = client.get(address)
    assert first.status_code == again.status_code == 200
    assert 0 < found["statements"] <= STATEMENTS[address]
    assert (found["draws"], found["integrals"]) == (0, 0)
    assert again.text == first.text


@pytest.mark.parametrize(
    ("address", "kind", "most"),
    [
        # 16 to 17 and 12 to 17, by which stoves a filling of the demo has looked at twice; each
        # count worked out anew would take 49 and up to 60.
        ("/trainer/inspectors", "draws", 24),
        ("/yard/pace", "draws", 24),
        ("/yard/limits", "integrals", 520),
    ],
)
def test_page_shows_the_same_when_nothing_is_kept(demo_yard, address, kind, most):
    client = demo_yard[0]
    shown = client.get(address).text
    for function in KEPT:
        function.cache_clear()
    with counting(client.app.state.store) as found:
        assert client.get(address).text == shown
    assert 0 < found[kind] <= most
