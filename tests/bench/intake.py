"""What storing a push costs beside the barest way: the same rows by executemany of the database's
own driver.

Three times for the same inspections: the whole push (read from its bytes, checked, signatures too,
judged, hashed, folded, stored, committed), the statements in it that write, and the bare executemany
without its commits and with them. Only their ratios mean something.
"""

import gc
import json
import random
import resource
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import event

from qcapp.access.devices import join_device, make_join_code
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.projections.stove_projection import rebuild
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.store.registry.people import save_people
from qcapp.sync.push import parse_push, receive_push
from qcapp.usecases.open_store import open_store
from tests.bench.summary import PHONE, _make_events
from tests.builders import BATCHES, PEOPLE
from tests.signing_phones import introduce, sign_all

TABLES = ("log", "tree_node", "stove", "inspection", "made_from", "result", "tally")
A_PUSH = 50
# Below what one phone may send in a day.
A_DAY = 4_000


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
    bare_committed_s: float

    @property
    def writing_ratio(self) -> float:
        return self.writing_s / self.bare_s

    @property
    def push_ratio(self) -> float:
        return self.push_s / self.bare_s

    @property
    def push_ratio_committed(self) -> float:
        return self.push_s / self.bare_committed_s

    @property
    def a_second(self) -> float:
        return self.inspections / self.push_s


def measure_intake(
    folder: Path, inspections: int = 1000, *, is_signed: bool = True, rounds: int = 5
) -> Intake:
    """The round with the least ratio of several: what else the machine does only makes it larger."""
    found = []
    for number in range(rounds):
        inside = folder / f"{number}-{is_signed}"
        inside.mkdir()
        found.append(_measure_once(inside, inspections, is_signed))
    return min(found, key=lambda one: one.push_ratio)


def _measure_once(folder: Path, inspections: int, is_signed: bool) -> Intake:
    store = _open_yard(folder, inspections, is_signed=is_signed)
    pushes = list(make_pushes(store, inspections, is_signed=is_signed))
    before = _count_rows(store)
    with timing(store) as spent:
        began = time.perf_counter()
        for number, push in enumerate(pushes):
            take_in(store, push, number)
        push_s = time.perf_counter() - began
    rows = _read_rows(store)
    store.close()
    bare = [_write_bare(folder, rows, len(pushes), number) for number in range(3)]
    return Intake(
        inspections,
        sum(map(len, rows.values())) - before,
        spent["statements"] // len(pushes),
        spent["begins"] // len(pushes),
        push_s,
        spent["writing"],
        *map(min, zip(*bare, strict=True)),
    )


def take_in(store: Store, push: bytes, number: int) -> None:
    """As the server does; each day's pushes come on a day of their own."""
    now = datetime.now(UTC) + timedelta(days=number * A_PUSH // A_DAY)
    answer = receive_push(store, parse_push(json.loads(push)), relayed_by=PHONE, now=now)
    # A reading beyond its limit is released now and then, and held back.
    assert {one.outcome for one in answer.results} <= {"created", "quarantined"}


def measure_memory(folder: Path, inspections: int) -> dict[str, float]:
    """What the process holds at most (10^6 bytes), and how fast it is: pushes of so many
    inspections, then a rebuild of the figures from the log. Give it a process of its own.
    """
    store = _open_yard(folder, inspections, is_signed=True)
    marks, found = [inspections // 10, inspections], {}
    spent, done = 0.0, 0
    for number, push in enumerate(make_pushes(store, inspections, is_signed=True)):
        began = time.perf_counter()
        take_in(store, push, number)
        spent, done = spent + time.perf_counter() - began, done + A_PUSH
        if done in marks:
            found[f"peak after {done} inspections, MB"] = read_peak_mb()
    found["pushed, inspections a second"] = done / spent
    began = time.perf_counter()
    with store.writing() as connection:
        stoves = rebuild(connection)
    found["rebuilt, stoves a second"] = stoves / (time.perf_counter() - began)
    found["peak after the rebuild, MB"] = read_peak_mb()
    store.close()
    return found


def read_peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6


def _open_yard(folder: Path, inspections: int, *, is_signed: bool) -> Store:
    """With one phone, which has a key or none: then it is believed in its own exchange."""
    store = open_store(Settings(database_url=f"sqlite:///{folder / 'intake.db'}"))
    # As a server does while it runs.
    store.hold()
    gc.collect()
    gc.freeze()
    with store.writing() as connection:
        save_people(connection, PEOPLE)
        save_batches(
            connection,
            [{**BATCHES[0], "planned": inspections, "checklist_ids": ["finished-stove"]}],
        )
    now = datetime.now(UTC)
    if is_signed:
        introduce(store, PHONE, now)
    else:
        join_device(
            store,
            code=make_join_code(store, name="Phone", minutes=15, now=now),
            device_id=PHONE,
            now=now,
        )
    return store


def make_pushes(store: Store, inspections: int, *, is_signed: bool) -> Iterator[bytes]:
    with store.reading() as connection:
        checklist = get_current_checklist(connection, "finished-stove")
    chance, events, made, place = random.Random(7), [], 0, 0
    while made < inspections:
        while len(events) < A_PUSH:
            place += 1
            events += _make_events(checklist, place, chance)
        part, events = events[:A_PUSH], events[A_PUSH:]
        made += A_PUSH
        wish = {
            "signatures": sign_all(part) if is_signed else [],
            "protocol": 1,
            "request_id": f"r{made}",
            "events": part,
            "device": {"id": PHONE, "created": made, "acked": made - A_PUSH},
        }
        yield json.dumps(wish).encode()


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


def _write_bare(
    folder: Path, rows: dict[str, list[tuple]], pushes: int, number: int
) -> tuple[float, float]:
    """The same rows into empty tables of the same shape, in as many transactions: seconds without
    the ends of these, and with them.
    """
    source = sqlite3.connect(folder / "intake.db")
    target = sqlite3.connect(folder / f"bare{number}.db", isolation_level=None)
    target.execute("PRAGMA journal_mode = WAL")
    target.execute("PRAGMA synchronous = FULL")
    for (sql,) in source.execute(
        f"SELECT sql FROM sqlite_master WHERE tbl_name IN {TABLES} AND sql IS NOT NULL"
    ):
        target.execute(sql)
    spent, started = 0.0, time.perf_counter()
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
    committed = time.perf_counter() - started
    target.close()
    source.close()
    return spent, committed
