"""Bytes that a stove weighs on both engines, and how fast a yard is carried over: python3 -m
tests.bench.weight

A yard as in the guide's arithmetic: 50 stoves a day, 200 a batch, eight makers, the shipped
checklist with every check answered, one stove in twelve mended and seen again. Sizes of tables with
their indexes, after the databases have tidied up.
"""

import json
import random
import sqlite3
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from sqlalchemy import create_engine

from qcapp.inspection.event import seal_event
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections.stove_projection import refresh_stoves
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.store.registry.people import save_people
from qcapp.store.upkeep.move import move_yard
from qcapp.usecases.open_store import open_store
from tests.bench.summary import _make_events
from tests.builders import BATCHES, PEOPLE
from tests.postgres import start_cluster

STOVES_A_DAY, STOVES_A_BATCH, MAKERS = 50, 200, 8
TABLES = ("log", "result", "tally", "inspection", "stove")


def fill(url: str, days: int) -> int:
    """A yard's records and figures; gives the stoves."""
    store = open_store(Settings(database_url=url))
    stoves, chance = days * STOVES_A_DAY, random.Random(7)
    batches = [
        {**BATCHES[0], "code": f"B{number}", "checklist_ids": ["finished-stove"]}
        for number in range(-(-stoves // STOVES_A_BATCH))
    ]
    with store.writing() as connection:
        checklist = get_current_checklist(connection, "finished-stove")
        save_people(connection, PEOPLE)
        save_batches(connection, batches)
    for day in range(days):
        events = [
            _place(event, stove)
            for stove in range(day * STOVES_A_DAY, (day + 1) * STOVES_A_DAY)
            for event in _make_events(checklist, stove, chance)
        ]
        with store.writing() as connection:
            log.append(
                connection,
                [_enter(event) for event in events],
                received_at=events[0]["captured_at"],
                relayed_by="d",
                clock_offset_ms=0,
            )
            refresh_stoves(connection, [f"{event['stage']}/{event['stove']}" for event in events])
    store.close()
    return stoves


def _place(event: dict, stove: int) -> dict:
    """The same inspection on its own day, in its own batch, of its own maker."""
    day = (date(2026, 1, 1) + timedelta(days=stove // STOVES_A_DAY)).isoformat()
    at = day + event["captured_at"][10:]
    body = {
        **event["body"],
        "started_at": at,
        "crew": dict.fromkeys(event["body"]["crew"], f"A{stove % MAKERS:02}"),
    }
    batch = f"B{stove // STOVES_A_BATCH}"
    placed = {
        **event,
        "batch": batch,
        "stove": f"{batch}-{stove:05}",
        "captured_at": at,
        "body": body,
    }
    del placed["hash"]
    return seal_event(placed)


def _enter(event: dict) -> log.Entry:
    key = f"{event['stage']}/{event['stove']}"
    text = json.dumps(event, ensure_ascii=False, separators=(",", ":"))
    return log.Entry(
        event["id"],
        event["hash"],
        "counted",
        None,
        "inspection",
        event["device_id"],
        event["dev_seq"],
        key,
        event["batch"],
        text,
    )


def weigh_sqlite(path: Path) -> dict[str, int]:
    with sqlite3.connect(path) as database:
        database.execute("VACUUM")
        query = (
            "SELECT m.tbl_name, sum(d.pgsize) FROM dbstat d JOIN sqlite_master m ON m.name = d.name"
            " GROUP BY m.tbl_name"
        )
        return dict(database.execute(query).fetchall())


def weigh_postgresql(url: str) -> dict[str, int]:
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql("VACUUM FULL ANALYZE")
        found = dict(
            connection.exec_driver_sql(
                "SELECT relname, pg_total_relation_size(oid) FROM pg_class WHERE relkind = 'r'"
            ).all()
        )
    engine.dispose()
    return found


def main(days: int) -> None:
    cluster = start_cluster()
    try:
        with tempfile.TemporaryDirectory() as folder:
            path, target = Path(folder) / "yard.db", cluster.create_database()
            stoves = fill(f"sqlite:///{path}", days)
            source, other = Store(f"sqlite:///{path}"), Store(target)
            began = time.perf_counter()
            moved = move_yard(source, other, lambda *_said: None)
            print(
                f"{stoves} stoves, {moved.records} records; moved and compared at"
                f" {moved.records / (time.perf_counter() - began):.0f} records a second"
            )
            with source.reading() as connection:
                rows = {
                    table: connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar()
                    for table in TABLES
                }
            source.close()
            other.close()
            weights = weigh_sqlite(path), weigh_postgresql(target)
        for table in TABLES:
            print(
                f"{table:<12}{rows[table] / stoves:>8.2f} rows{weights[0][table] / stoves:>10.0f}"
                f" B{weights[1][table] / stoves:>10.0f} B a stove"
            )
        print(
            f"{'together':<25}{sum(weights[0][t] for t in TABLES) / stoves:>10.0f}"
            f" B{sum(weights[1][t] for t in TABLES) / stoves:>10.0f} B"
        )
    finally:
        cluster.stop()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
