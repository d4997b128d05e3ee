"""Rows for CSV files: one a stove, or one a judged check."""

from sqlalchemy import Connection

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.queries import batch_figures
from qcapp.store.registry import batches

COLUMNS = {
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
    ),
    "readings": (
        "batch",
        "stage",
        "serial",
        "captured_at",
        "is_first_pass",
        "check",
        "artisan",
        "verdict",
        "fault",
        "value",
    ),
}


def list_rows(connection: Connection, what: str, batch: str | None) -> list[tuple]:
    """Rows in the order of COLUMNS[what], of one batch or of all. Raises NotFound."""
    if batch is not None and batches.find_batch(connection, batch) is None:
        raise NotFound(phrase("there is no such batch"), batch, phrase("see the list of batches"))
    codes = (
        [batch]
        if batch is not None
        else [found["code"] for found in batches.list_batches(connection)]
    )
    return [
        row
        for code in codes
        for row in (_stoves if what == "stoves" else _readings)(connection, code)
    ]


def _stoves(connection: Connection, code: str) -> list[tuple]:
    return [
        (
            code,
            row.stage,
            row.serial,
            row.size,
            row.disposition,
            row.inspections,
            row.has_first_pass_fail,
            row.last_at,
            row.reason,
        )
        for row in batch_figures.list_stoves(connection, code)
    ]


def _readings(connection: Connection, code: str) -> list[tuple]:
    return [
        (
            code,
            row.stage,
            row.serial,
            row.captured_at,
            row.is_first_pass,
            row.check_id,
            row.artisan,
            row.verdict,
            row.fault,
            row.value,
        )
        for row in batch_figures.list_readings(connection, code)
    ]
