"""The rows of stoves' figures under names: row numbers differ from one making to the next."""

from collections import defaultdict
from collections.abc import Collection
from typing import Any

from sqlalchemy import Connection, select

from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE

Figures = dict[str, list[tuple[Any, ...]]]


def list_figure_rows(connection: Connection, stove_keys: Collection[str] | None = None) -> Figures:
    """All rows of each stove, of the given stoves or of all; "?" holds those of no stove."""
    stoves, inspections, results = select(STOVE), select(INSPECTION), select(RESULT)
    if stove_keys is not None:
        stoves = stoves.where(STOVE.c.stove_key.in_(stove_keys))
        inspections = inspections.where(
            INSPECTION.c.stove_no.in_(stoves.with_only_columns(STOVE.c.no))
        )
        results = results.where(
            RESULT.c.inspection_no.in_(inspections.with_only_columns(INSPECTION.c.no))
        )
    figures: Figures = defaultdict(list)
    key_by_no, inspection_by_no = {}, {}
    for row in connection.execute(stoves):
        key_by_no[row.no] = row.stove_key
        figures[row.stove_key].append(tuple(row)[1:])
    for row in connection.execute(inspections):
        inspection_by_no[row.no] = (key_by_no.get(row.stove_no, "?"), row.event_id)
        figures[key_by_no.get(row.stove_no, "?")].append(tuple(row)[2:])
    checks = {row.no: tuple(row)[1:] for row in connection.execute(select(CHECK_KEY))}
    for row in connection.execute(results):
        key, event_id = inspection_by_no.get(row.inspection_no, ("?", "?"))
        figures[key].append((event_id, checks.get(row.check_no), *tuple(row)[2:]))
    return {key: sorted(rows, key=repr) for key, rows in figures.items()}
