"""The trainer's filters, as conditions on the rows of results."""

from typing import Any

from sqlalchemy import ColumnElement, Select, select

from qcapp.inspection.filters import Filters
from qcapp.inspection.tallies import COUNTED_VERDICTS
from qcapp.store.projections.tallies import join_results
from qcapp.store.tables import INSPECTION, RESULT, STOVE

IS_COUNTED = RESULT.c.verdict.in_(COUNTED_VERDICTS)


def filter_results(query: Select[Any], filters: Filters) -> Select[Any]:
    """Counted checks between the filters' days."""
    return query.select_from(join_results()).where(
        IS_COUNTED, is_since(filters.since), *_match_until(filters)
    )


def match_inspections(filters: Filters) -> list[ColumnElement[bool]]:
    """Between the filters' days: what `filter_results` asks of the inspection."""
    since = [] if filters.since is None else [INSPECTION.c.captured_at >= filters.since]
    return [*since, *_match_until(filters)]


def _match_until(filters: Filters) -> list[ColumnElement[bool]]:
    first: list[ColumnElement[bool]] = [] if filters.has_rework else [INSPECTION.c.is_first_pass]
    if filters.until is None:
        return first
    # "~" sorts after every character of a timestamp, so the whole last day is in.
    return [*first, INSPECTION.c.captured_at <= f"{filters.until}~"]


def filter_stoves(query: Select[Any], filters: Filters) -> Select[Any]:
    """Of the filters' batch, size and stage."""
    for column, value in (
        (STOVE.c.batch, filters.batch),
        (STOVE.c.size, filters.size),
        (STOVE.c.stage, filters.stage),
    ):
        if value is not None:
            query = query.where(column == value)
    return query


def is_since(day: str | None) -> ColumnElement[bool]:
    """As a list of inspections: the database goes from the few newest to their results."""
    return RESULT.c.inspection_no.in_(
        select(INSPECTION.c.no).where(INSPECTION.c.captured_at >= (day or ""))
    )
