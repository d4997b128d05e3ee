"""The yards of a programme side by side, each in a few counts."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from qcapp.errors import StoreError
from qcapp.reports.programme import KeptLog, YardLine, build_yard_line
from qcapp.store.engine import Store
from qcapp.store.queries.overview import count_yard
from qcapp.store.registry.seen_checkpoints import SeenCheckpoint, list_seen
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.watch_yard import list_broken

SILENT_DAYS = 7


def load_programme_lines(
    programme: Store, yards: Mapping[str, tuple[str, Store]], min_count: int, now: datetime
) -> list[YardLine]:
    """programme: its own store; yards: {address: (name, store)}. By name."""
    with programme.reading() as connection:
        seen = {address: list_seen(connection, address) for address in yards}
    lines = [
        _load_line(name, address, store, seen[address], min_count, now)
        for address, (name, store) in yards.items()
    ]
    return sorted(lines, key=lambda line: line.name)


def _load_line(
    name: str,
    address: str,
    store: Store,
    seen: list[SeenCheckpoint],
    min_count: int,
    now: datetime,
) -> YardLine:
    """A yard whose database cannot be read must not hide the others."""
    silent_before = format_timestamp(now - timedelta(days=SILENT_DAYS))
    try:
        with store.reading() as connection:
            counts = count_yard(connection, silent_before=silent_before)
            broken = list_broken(connection, seen)
    except StoreError as error:
        return YardLine(name, address, error=error.what)
    kept = [KeptLog(one.size, one.seen_at, one.note, one not in broken) for one in seen]
    return build_yard_line(name, address, counts, min_count=min_count, seen=kept)
