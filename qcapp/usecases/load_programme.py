"""The yards of a programme side by side, each in a few counts."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from qcapp.errors import StoreError
from qcapp.reports.programme import YardLine, build_yard_line
from qcapp.store.engine import Store
from qcapp.store.queries.overview import count_yard
from qcapp.store.timestamps import format_timestamp

SILENT_DAYS = 7


def load_programme_lines(
    yards: Mapping[str, tuple[str, Store]], min_count: int, now: datetime
) -> list[YardLine]:
    """yards: {address: (name, store)}. By name."""
    lines = [
        _load_line(name, address, store, min_count, now) for address, (name, store) in yards.items()
    ]
    return sorted(lines, key=lambda line: line.name)


def _load_line(name: str, address: str, store: Store, min_count: int, now: datetime) -> YardLine:
    """A yard whose database cannot be read must not hide the others."""
    silent_before = format_timestamp(now - timedelta(days=SILENT_DAYS))
    try:
        with store.reading() as connection:
            counts = count_yard(connection, silent_before=silent_before)
    except StoreError as error:
        return YardLine(name, address, error=error.what)
    return build_yard_line(name, address, counts, min_count=min_count)
