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
from sqlmodel import SQLModel
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

# Every row again, {days} days earlier: what a column holds in the copy, where it is not the same.
# Past four years it was other people who made the stoves.
COPIES = {
    "batch": {
        "code": "code || '~{copy}'",
        "opened_on": "date(opened_on, '-{days} days')",
        "closed_at": (
            "date(coalesce(substr(closed_at, 1, 10), '2026-11-24'), '-{days} days')"
            " || 'T12:00:00.000Z'"
        ),
    },
    "stove": {
        "no": "no + {stoves}",
        "stove_key": "stove_key || '~{copy}'",
        "serial": "serial || '~{copy}'",
        "batch": "batch || '~{copy}'",
        "last_at": "date(substr(last_at, 1, 10), '-{days} days') || substr(last_at, 11)",
    },
    "inspection": {
        "no": "no + {visits}",
        "stove_no": "stove_no + {stoves}",
        "event_id": "event_id || '~{copy}'",
        "captured_at": (
            "date(substr(captured_at, 1, 10), '-{days} days') || substr(captured_at, 11)"
        ),
    },
    "result": {
        "inspection_no": "inspection_no + {visits}",
        "artisan": "artisan || '{others}'",
    },
    "tally": {
        "batch": "batch || '~{copy}'",
        "day": "CASE day WHEN '' THEN '' ELSE date(day, '-{days} days') END",
        "artisan": "CASE artisan WHEN '' THEN '' ELSE artisan || '{others}' END",
    },
}


def write_copy(table: str, places: dict[str, int | str]) -> str:
    """The statement that copies a table; new columns of it are copied as they are."""
    changed = COPIES[table]
    columns = [column.name for column in SQLModel.metadata.tables[table].columns]
    values = ", ".join(changed.get(name, name).format(**places) for name in columns)
    return f"INSERT INTO {table} ({', '.join(columns)}) SELECT {values} FROM {table}"


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
            for table in COPIES:
                connection.execute(text(write_copy(table, places)))
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
