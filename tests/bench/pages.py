"""How long the pages take with a thousand, a hundred thousand and a million stoves kept.

The demo's yard is filled as phones fill it; older half-years are copies of its rows with the days
moved back, made in SQL, so a million stoves take minutes and not hours. The log is not copied: the
pages do not read it, except for a batch's own few records.
"""

import gc
import itertools
import statistics
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import event, text
from starlette.testclient import TestClient

from qcapp.app import create_app
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.queries.trainer_queries import RECENT_DAYS
from qcapp.usecases.fill_demo import prepare_demo
from tests.builders import make_cookie, open_client

PAGES = (
    "/",
    "/trainer",
    "/trainer/steps",
    "/trainer/inspectors",
    "/trainer/faults",
    "/trainer/lessons",
    "/trainer/artisans/{artisan}",
    "/batches",
    "/batches/{batch}",
    "/batches/{batch}/figures",
    "/api/batches/{batch}",
    "/trainer/drift",
)
RUNS = 7

# Every row again, {days} days earlier. Past four years it was other people who made the stoves.
COPY = (
    (
        "INSERT INTO batch SELECT code || '~{copy}', title, size, planned, attributes, crew,"
        " checklist_ids, serial_prefix, date(opened_on, '-{days} days'), date(coalesce(substr("
        "closed_at, 1, 10), '2026-11-24'), '-{days} days') || 'T12:00:00.000Z' FROM batch"
    ),
    (
        "INSERT INTO stove SELECT no + {stoves}, stove_key || '~{copy}', stage, checklist,"
        " serial || '~{copy}', batch || '~{copy}', size, disposition, inspections,"
        " has_first_pass_fail, has_first_pass_gap, is_corrected_twice,"
        " date(substr(last_at, 1, 10), '-{days} days') || substr(last_at, 11),"
        " decided_by, decision_reason FROM stove"
    ),
    (
        "INSERT INTO inspection SELECT no + {visits}, stove_no + {stoves}, event_id || '~{copy}',"
        " is_first_pass, inspector, device_id, date(substr(captured_at, 1, 10), '-{days} days') ||"
        " substr(captured_at, 11), disposition, reason, differences FROM inspection"
    ),
    (
        "INSERT INTO result SELECT inspection_no + {visits}, check_no, artisan || '{others}',"
        " verdict, is_fail, fault, value FROM result"
    ),
    (
        "INSERT INTO tally (batch, kind, name, day, size, stage, checklist, is_first_pass, part,"
        " step, severity, fault, artisan, inspected, failed, doubtful, critical, major, minor) SELECT"
        " batch || '~{copy}', kind, name, CASE day WHEN '' THEN '' ELSE date(day, '-{days} days')"
        " END, size, stage, checklist, is_first_pass, part, step, severity, fault, CASE artisan WHEN '' THEN"
        " '' ELSE artisan || '{others}' END, inspected, failed, doubtful, critical, major, minor"
        " FROM tally"
    ),
)


def list_pages(
    folder: Path, sizes: Iterable[int], now: datetime | None = None
) -> Iterator[tuple[int, dict[str, tuple[float, int]]]]:
    """For each size (stoves kept, growing): {page: (median milliseconds, statements)}."""
    now = now or datetime.now(UTC)
    settings, _figures = prepare_demo(
        Settings(database_url=f"sqlite:///{folder / 'pages.sqlite3'}"),
        fresh=False,
        now=now,
    )
    app = create_app(settings)
    store = app.state.store
    # As qcapp serve does.
    gc.collect()
    gc.freeze()
    with open_client(app, cookie=make_cookie(store)) as client:
        copies = itertools.count()
        for size in sizes:
            grow(store, size, copies)
            yield count(store, "stove"), {name: measure(client, store, name) for name in PAGES}


def grow(store: Store, size: int, copies: Iterator[int]) -> None:
    """Doubles the past until so many stoves are kept. copies: how often it was doubled before."""
    while count(store, "stove") < size:
        copy = next(copies)
        others = f"~{copy}" if copy >= 3 else ""
        # A doubling a transaction, and its log folded in at once: else a million stoves are twelve
        # gigabytes of it.
        with store.writing() as connection:
            places = {
                "stoves": count_in(connection, "stove"),
                "visits": count_in(connection, "inspection"),
                "days": RECENT_DAYS * 2**copy,
                "copy": copy,
                "others": others,
            }
            for statement in COPY:
                connection.execute(text(statement.format(**places)))
        with store.reading() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")


def count_in(connection, table: str) -> int:
    return connection.execute(text(f"SELECT max(no) FROM {table}")).scalar_one()


def count(store: Store, table: str) -> int:
    with store.reading() as connection:
        return connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one()


def measure(client: TestClient, store: Store, page: str) -> tuple[float, int]:
    address = page.format(artisan=find_artisan(store), batch="B1")
    times = []
    with counting(store) as statements:
        for _ in range(RUNS):
            began = time.perf_counter()
            answer = client.get(address)
            times.append(1000 * (time.perf_counter() - began))
            assert answer.status_code == 200, (address, answer.status_code, answer.text[:200])
    return statistics.median(times), len(statements) // RUNS


def find_artisan(store: Store) -> str:
    with store.reading() as connection:
        return connection.execute(
            text(
                "SELECT artisan FROM tally WHERE kind = 'step' AND artisan IN (SELECT code FROM"
                " person) ORDER BY inspected DESC LIMIT 1"
            )
        ).scalar_one()


@contextmanager
def counting(store: Store) -> Iterator[list]:
    """Every statement sent while open."""
    sent: list = []

    def note(_connection, _cursor, statement, *_rest) -> None:
        sent.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
