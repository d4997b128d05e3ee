"""Rows for CSV files: one a stove, or one a judged check."""

from typing import Any

from sqlalchemy import Connection

from qcapp.store.queries.batch_figures import ReadingRow, list_readings, list_stoves
from qcapp.store.registry.batches import get_batch, list_batches

NAMES = {"check_id": "check", "is_fail": "counts_as_fail"}
COLUMNS: dict[str, tuple[str, ...]] = {
    "stoves": (
        "batch",
        "stage",
        "serial",
        "size",
        "disposition",
        "inspections",
        "has_first_pass_fail",
        "last_at",
        "reason",
        "made_from",
    ),
    # As the pages say it.
    "readings": tuple(NAMES.get(name, name) for name in ReadingRow._fields),
}


def list_rows(connection: Connection, what: str, batch: str | None) -> list[tuple[Any, ...]]:
    """Rows in the order of COLUMNS[what], of one batch or of all. Raises NotFound."""
    found = [get_batch(connection, batch)] if batch is not None else list_batches(connection)
    codes = [one["code"] for one in found]
    if what == "readings":
        return [tuple(row) for code in codes for row in list_readings(connection, code)]
    return [
        tuple(getattr(row, name) for name in COLUMNS["stoves"])
        for code in codes
        for row in list_stoves(connection, code)
    ]
