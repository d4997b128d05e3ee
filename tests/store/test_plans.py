"""No page and no call of a phone reads a table of stoves from end to end: its cost must not grow
with the years.

SQLite chooses its way through the tables without looking at how many rows they hold (nothing here
gathers statistics), so the way it takes with three stoves is the one it takes with a million.
"""

import re
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from tests.builders import open_yard

# What ends early: the newest rows in an index's order, and the index that holds only what is
# quarantined.
SHORT = (
    re.compile(r"^SCAN log: .*FROM log ORDER BY log.seq DESC LIMIT"),
    re.compile(r"^SCAN inspection USING .*INDEX inspection_captured: .* LIMIT "),
    re.compile(r"^SCAN log USING .*INDEX log_quarantined: "),
)
# The phones' page counts each phone's numbers over all its records, to show what was lost; it grows
# with them.
ADMITTED = {"/yard": re.compile(r"^SCAN log USING INDEX log_device: ")}
GROWING = (
    "log",
    "stove",
    "inspection",
    "result",
    "tally",
    "made_from",
    "photo",
    "photo_name",
    "link_opening",
)
WHOLE = re.compile(rf"SCAN ({'|'.join(GROWING)})\b")
PAGES = (
    "/trainer",
    "/trainer/steps",
    "/trainer/inspectors",
    "/trainer/faults",
    "/trainer/pieces",
    "/trainer/lessons",
    "/trainer/artisans/A01",
    "/trainer/drift",
    "/batches",
    "/batches/B1",
    "/batches/B1/figures",
    "/api/batches/B1",
    "/yard",
    "/yard/quarantine",
    "/yard/limits",
    "/yard/pace",
    "/yard/studies",
    "/yard/trail",
)


@pytest.fixture(scope="module")
def yard():
    yard = open_yard()
    yard.push(
        *(
            yard.phone.inspect(
                f"B1-{n:03}",
                width="120" if n == 1 else "100",
                disposition="rework" if n == 1 else "release",
            )
            for n in range(1, 4)
        )
    )
    return yard


@contextmanager
def whole_reads(store):
    """Filled at its end with the statements that read a growing table whole, and which."""
    sent, found = [], []

    def note(_connection, _cursor, statement, parameters, _context, is_many) -> None:
        if not is_many and statement.lstrip().upper().startswith(
            ("SELECT", "DELETE", "UPDATE", "INSERT")
        ):
            sent.append((statement, parameters))

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    with store.reading() as connection:
        for statement, parameters in sent:
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters):
                told = f"{row[3]}: {' '.join(statement.split())}"
                if WHOLE.search(row[3]) and not any(short.match(told) for short in SHORT):
                    found.append(told)


@pytest.mark.parametrize("page", PAGES)
def test_page_reads_no_growing_table_whole(yard, page):
    with whole_reads(yard.store) as found:
        answer = yard.client.get(page)
    assert answer.status_code == 200
    admitted = ADMITTED.get(page)
    assert [one for one in found if not (admitted and admitted.match(one))] == []
    assert admitted is None or found, "it reads nothing whole any more: take it off the list"


def test_a_phones_calls_read_no_growing_table_whole(yard):
    with whole_reads(yard.store) as found:
        yard.push(yard.phone.inspect("B1-009"))
        for path in ("hello", "reference", "pull"):
            assert yard.client.get(f"/api/sync/{path}", headers=yard.headers).status_code == 200
    assert found == []
