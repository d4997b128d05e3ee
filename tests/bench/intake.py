"""What storing a push costs beside the barest way: the same rows by executemany of the database's
own driver.

Three times for the same inspections: the whole push (read, judged, hashed, stored), the statements
in it that write, and the bare executemany. Only their ratios mean something.
"""

import json
import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import event

from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.store.registry.people import save_people
from qcapp.sync.push import IMPORTED, parse_push, receive_push
from qcapp.usecases.open_store import open_store
from tests.bench.summary import _make_events
from tests.builders import BATCHES, PEOPLE
from tests.signing_phones import introduce, sign_all

TABLES = ("log", "stove", "inspection", "result", "tally")
A_PUSH = 50


@dataclass(frozen=True)
class Intake:
    """Seconds for all pushes together; rows: written in the tables of TABLES; statements:
    of one push of A_PUSH inspections.
    """

    inspections: int
    rows: int
    statements: int
    transactions: int
    push_s: float
    writing_s: float
    bare_s: float

    @property
    def writing_ratio(self) -> float:
        return self.writing_s / self.bare_s

    @property
    def push_ratio(self) -> float:
        return self.push_s / self.bare_s


def measure_intake(folder: Path, inspections: int = 1000) -> Intake:
    store = open_store(Settings(database_url=f"sqlite:///{folder / 'intake.db'}"))
    pushes = list(_make_pushes(store, inspections))
    before = _count_rows(store)
    with timing(store) as spent:
        began = time.perf_counter()
        for push in pushes:
            receive_push(store, push, relayed_by=IMPORTED, now=datetime.now(UTC))
        push_s = time.perf_counter() - began
    rows = _read_rows(store)
    store.close()
    return Intake(
        inspections,
        sum(map(len, rows.values())) - before,
        spent["statements"] // len(pushes),
        spent["begins"] // len(pushes),
        push_s,
        spent["writing"],
        _write_bare(folder, rows, len(pushes)),
    )


def _make_pushes(store: Store, inspections: int) -> Iterator:
    with store.writing() as connection:
        checklist = get_current_checklist(connection, "finished-stove")
        save_people(connection, PEOPLE)
        save_batches(
            connection,
            [{**BATCHES[0], "planned": inspections, "checklist_ids": ["finished-stove"]}],
        )
    chance = random.Random(7)
    events = [
        one for place in range(1, inspections + 1) for one in _make_events(checklist, place, chance)
    ][:inspections]
    for name in {one["device_id"] for one in events}:
        introduce(store, name, datetime.now(UTC))
    for start in range(0, inspections, A_PUSH):
        wish = {
            "signatures": sign_all(events[start : start + A_PUSH]),
            "protocol": 1,
            "request_id": f"r{start}",
            "events": events[start : start + A_PUSH],
            "device": {},
        }
        yield parse_push(json.loads(json.dumps(wish)))


@contextmanager
def timing(store: Store) -> Iterator[dict]:
    """Statements, transactions begun, and seconds inside statements that write."""
    spent = {"statements": 0, "begins": 0, "writing": 0.0}
    started = {}

    def before(_connection, _cursor, statement, *_rest) -> None:
        spent["statements"] += 1
        spent["begins"] += statement.lstrip().upper().startswith("BEGIN")
        started["at"] = time.perf_counter()

    def after(_connection, _cursor, statement, *_rest) -> None:
        if statement.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE")):
            spent["writing"] += time.perf_counter() - started["at"]

    event.listen(store.engine, "before_cursor_execute", before)
    event.listen(store.engine, "after_cursor_execute", after)
    try:
        yield spent
    finally:
        event.remove(store.engine, "before_cursor_execute", before)
        event.remove(store.engine, "after_cursor_execute", after)


def _count_rows(store: Store) -> int:
    return sum(map(len, _read_rows(store).values()))


def _read_rows(store: Store) -> dict[str, list[tuple]]:
    with store.reading() as connection:
        return {
            table: [tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {table}")]
            for table in TABLES
        }


def _write_bare(folder: Path, rows: dict[str, list[tuple]], pushes: int) -> float:
    """The same rows into empty tables of the same shape, in as many transactions; their ends,
    alike on both sides, are left out.
    """
    source = sqlite3.connect(folder / "intake.db")
    target = sqlite3.connect(folder / "bare.db", isolation_level=None)
    target.execute("PRAGMA journal_mode = WAL")
    target.execute("PRAGMA synchronous = FULL")
    for (sql,) in source.execute(
        f"SELECT sql FROM sqlite_master WHERE tbl_name IN {TABLES} AND sql IS NOT NULL"
    ):
        target.execute(sql)
    spent = 0.0
    for push in range(pushes):
        target.execute("BEGIN IMMEDIATE")
        began = time.perf_counter()
        for table, all_rows in rows.items():
            own = all_rows[push * len(all_rows) // pushes : (push + 1) * len(all_rows) // pushes]
            if own:
                target.executemany(
                    f"INSERT INTO {table} VALUES ({', '.join('?' * len(own[0]))})", own
                )
        spent += time.perf_counter() - began
        target.execute("COMMIT")
    target.close()
    source.close()
    return spent
