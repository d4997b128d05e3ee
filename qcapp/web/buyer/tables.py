"""Stoves and readings of one batch as files for its buyer: no maker stands in them."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from qcapp.documents.summary_sheet import read_moment
from qcapp.documents.table_files import Cell, Table
from qcapp.reports.summary import build_mask
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import exports
from qcapp.store.queries.batch_facts import choose_batch_stage
from qcapp.store.registry import batches
from qcapp.usecases.issue_summary import list_maker_words

HIDDEN = {"artisan"}
# Columns that hold a time, with what their head says of it.
MOMENTS = {"last_at": "UTC", "captured_at": "UTC"}


def list_tables(store: Store, code: str) -> list[Table]:
    """Both tables as recorded now, at the stage the summary is about."""
    with store.reading() as connection:
        stage = choose_batch_stage(connection, batches.get_batch(connection, code))
        hide = build_mask(list_maker_words(connection))
        return [_build(connection, what, code, stage, hide) for what in ("stoves", "readings")]


def _build(
    connection: Connection, what: str, code: str, stage: str, hide: Callable[[str], str]
) -> Table:
    columns = exports.COLUMNS[what]
    shown = [name for name in columns if name not in HIDDEN]
    found = [
        dict(zip(columns, row, strict=True)) for row in exports.list_rows(connection, what, code)
    ]
    rows = [
        tuple(_as_cell(name, row[name], hide) for name in shown)
        for row in found
        if row["stage"] == stage
    ]
    return Table(what, tuple(shown), rows, MOMENTS)


def _as_cell(name: str, value: Any, hide: Callable[[str], str]) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name in MOMENTS and value:
        return read_moment(value)
    return hide(value) if isinstance(value, str) else value


def add_units(readings: Table, checks: list[dict[str, Any]]) -> Table:
    """The table with a unit beside each value. checks: of the issued summary."""
    units = {check["check"]: check["unit"] for check in checks}
    check, value = map(readings.columns.index, ("check", "value"))
    rows = [
        (*row, None if row[value] is None else units.get(str(row[check]))) for row in readings.rows
    ]
    return replace(readings, columns=(*readings.columns, "unit"), rows=rows)


def build_measured(readings: Table, checks: list[dict[str, Any]]) -> Table:
    """Measured values, a row an inspection and a column a check, its unit in the head.

    readings: of list_tables; checks: of the issued summary, in words.
    """
    measured = [check for check in checks if check["unit"] is not None]
    at = {name: place for place, name in enumerate(readings.columns)}
    rows: dict[tuple[Cell, Cell], dict[Cell, Cell]] = {}
    for row in readings.rows:
        key = (row[at["serial"]], row[at["captured_at"]])
        rows.setdefault(key, {})[row[at["check"]]] = row[at["value"]]
    return Table(
        "measured",
        ("serial", "captured_at", *(str(check["ask"]) for check in measured)),
        [
            (*key, *(values.get(check["check"]) for check in measured))
            for key, values in rows.items()
        ],
        {**MOMENTS, **{str(check["ask"]): check["unit"] for check in measured}},
    )
