"""Stoves and readings of one batch as files for its buyer: no maker stands in them."""

from collections.abc import Callable

from qcapp.documents.table_files import Cell, Table
from qcapp.reports.summary import build_mask
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import exports
from qcapp.store.queries.batch_facts import choose_batch_stage
from qcapp.store.registry import batches
from qcapp.usecases.issue_summary import list_maker_words

HIDDEN = {"artisan"}


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
    shown = [place for place, name in enumerate(columns) if name not in HIDDEN]
    rows = [
        row
        for row in exports.list_rows(connection, what, code)
        if row[columns.index("stage")] == stage
    ]
    return Table(
        what,
        tuple(columns[place] for place in shown),
        [tuple(_as_cell(row[place], hide) for place in shown) for row in rows],
    )


def _as_cell(value: Cell, hide: Callable[[str], str]) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return hide(value) if isinstance(value, str) else value
