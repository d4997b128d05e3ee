"""What the trainer's pages are made from: sums over everybody's stoves, read from the tallies."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta
from functools import cache
from typing import Any, NamedTuple

from sqlalchemy import Connection, Integer, Select, case, func, select, text, tuple_

from qcapp.checklist.history import StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.report_counts import FaultCount, SideCount, StepTally
from qcapp.store.queries.filtered_results import filter_results, filter_stoves
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, TALLY
from qcapp.store.tables.projections import IS_STEP

# Half a year: what the trainer teaches next rests on how the work is done now.
RECENT_DAYS = 180


class PartCount(NamedTuple):
    """Stoves inspected and failed on a part of one checklist."""

    checklist: str
    part: str
    inspected: int
    failed: int


def find_first_day(connection: Connection) -> str | None:
    """ISO date that the newest half year begins with; None when nothing was inspected."""
    query = select(func.max(TALLY.c.day)).where(TALLY.c.kind == "part")
    newest = connection.execute(query).scalar()
    if not newest:
        return None
    return (date.fromisoformat(newest) - timedelta(days=RECENT_DAYS - 1)).isoformat()


def list_step_tallies(
    connection: Connection,
    filters: Filters,
    steps: Collection[StepRef] | None = None,
    *,
    has_made_before: bool = False,
) -> list[StepTally]:
    """By step, artisan, batch and day. has_made_before: reads the past for StepTally.made_before.

    steps: those of the filtered trade, since a trade belongs to the checklist, not to a row.
    """
    keys = (TALLY.c.day, TALLY.c.checklist, TALLY.c.name, TALLY.c.artisan, TALLY.c.batch)
    counts = (
        TALLY.c.inspected,
        TALLY.c.failed,
        TALLY.c.critical,
        TALLY.c.major,
        TALLY.c.minor,
    )
    query = _filter_tallies(select(*keys, *counts), "step", filters, steps).order_by(*keys)
    made = _count_made_before(connection) if has_made_before else {}
    # Thousands of rows of a few steps: each taken apart at once, because to ask a row for its names
    # takes longer than to read it.
    name_step = cache(StepRef)
    return [
        StepTally._make(
            (
                step := name_step(checklist, name),
                artisan or None,
                batch,
                day,
                *sums,
                made.get((artisan, step, day), 0) if made else 0,
            )
        )
        for (day, checklist, name, artisan, batch), sums in _add_alike(
            connection.execute(query).all()
        )
    ]


def _add_alike(rows: Iterable[Sequence[Any]]) -> Iterable[tuple[tuple[Any, ...], Sequence[int]]]:
    """Rows of five keys and five counts, with those of the same keys added up.

    rows: in order of the keys. Few are alike (other size, stage or pass), so this takes half the
    time of a grouping of all of them in the database.
    """
    keys: tuple[Any, ...] = ()
    sums: Sequence[int] = ()
    for row in rows:
        day, checklist, name, artisan, batch, *counts = row
        found = (day, checklist, name, artisan, batch)
        if found == keys:
            sums = [own + more for own, more in zip(sums, counts, strict=True)]
            continue
        if keys:
            yield keys, sums
        keys, sums = found, counts
    if keys:
        yield keys, sums


def list_step_counts(connection: Connection, filters: Filters) -> dict[StepRef, tuple[int, int]]:
    """(inspected, failed) by step, over everybody."""
    keys = (TALLY.c.checklist, TALLY.c.name)
    query = select(*keys, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed))
    query = _filter_tallies(query, "step", filters, None).group_by(*keys)
    return {StepRef(row[0], row[1]): (row[2], row[3]) for row in connection.execute(query)}


def _count_made_before(connection: Connection) -> dict[tuple[str, StepRef, str], int]:
    """First passes of each artisan's step before each day on which it was looked at."""
    keys = (TALLY.c.artisan, TALLY.c.checklist, TALLY.c.name, TALLY.c.day)
    first = case((TALLY.c.is_first_pass, TALLY.c.inspected), else_=0)
    query = (
        select(*keys, func.sum(first))
        .where(TALLY.c.kind == "step", TALLY.c.artisan != "")
        .group_by(*keys)
        .order_by(*keys)
    )
    made: Counter[tuple[str, StepRef]] = Counter()
    before = {}
    for artisan, checklist, name, day, count in connection.execute(query):
        step = StepRef(checklist, name)
        before[artisan, step, day] = made[artisan, step]
        made[artisan, step] += count
    return before


def find_first_days(connection: Connection) -> dict[StepRef, str]:
    """ISO date of the first record of each step, whatever the filters leave out.

    One look into the index a step: the sums of all years are not read.
    """
    step = select(CHECK_KEY.c.checklist, CHECK_KEY.c.step).distinct().subquery()
    first = (
        select(func.min(TALLY.c.day))
        .where(text(IS_STEP), TALLY.c.checklist == step.c.checklist, TALLY.c.name == step.c.step)
        .scalar_subquery()
    )
    rows = connection.execute(select(step.c.checklist, step.c.step, first))
    return {StepRef(checklist, name): day for checklist, name, day in rows if day}


def count_around(
    connection: Connection,
    filters: Filters,
    steps: Collection[StepRef],
    held_on: str,
    window: tuple[str, str],
) -> list[SideCount]:
    """Inspections before and after a day by checklist and artisan, the day itself left out.

    steps: the lesson's, of each checklist that inspects it. window: first day, day after the last.
    The filters' days are left out: a lesson is held against what came before it.
    """
    is_after = (TALLY.c.day > held_on).label("is_after")
    keys = (TALLY.c.checklist, TALLY.c.artisan, is_after)
    query = select(*keys, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed))
    query = _filter_tallies(query, "step", filters, steps, has_days=False).where(
        TALLY.c.artisan != "",
        TALLY.c.day >= window[0],
        TALLY.c.day < window[1],
        TALLY.c.day != held_on,
    )
    return [
        SideCount(checklist, artisan, bool(after), *counts)
        for checklist, artisan, after, *counts in connection.execute(
            query.group_by(*keys).order_by(*keys)
        )
    ]


def list_fault_counts(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[FaultCount]:
    """Failed checks by fault and artisan, the most frequent first."""
    keys = (
        *(TALLY.c.checklist, TALLY.c.step, TALLY.c.name),
        *(TALLY.c.fault, TALLY.c.severity, TALLY.c.artisan),
    )
    failed = func.sum(TALLY.c.failed)
    query = (
        _filter_tallies(select(*keys, failed), "fault", filters, steps)
        .group_by(*keys)
        .order_by(failed.desc(), *keys)
    )
    return [
        FaultCount(StepRef(checklist, step), check, fault or None, severity, artisan or None, count)
        for checklist, step, check, fault, severity, artisan, count in connection.execute(query)
    ]


def count_step_faults(connection: Connection, filters: Filters) -> dict[StepRef, int]:
    """Faults of each step, over everybody."""
    keys = (TALLY.c.checklist, TALLY.c.step)
    query = _filter_tallies(select(*keys, func.sum(TALLY.c.failed)), "fault", filters, None)
    return {StepRef(row[0], row[1]): row[2] for row in connection.execute(query.group_by(*keys))}


def list_part_counts(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[PartCount]:
    if steps is not None:
        return _list_part_counts_of_steps(connection, filters, steps)
    sums = (func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed))
    keys = (TALLY.c.checklist, TALLY.c.name)
    query = _filter_tallies(select(*keys, *sums), "part", filters, None)
    return [PartCount(*row) for row in connection.execute(query.group_by(*keys))]


def _list_part_counts_of_steps(
    connection: Connection, filters: Filters, steps: Collection[StepRef]
) -> list[PartCount]:
    """From the rows: a part's tally does not say which of its steps a stove failed."""
    keys = (CHECK_KEY.c.checklist, CHECK_KEY.c.part)
    query = select(*keys, func.max(RESULT.c.is_fail.cast(Integer)).label("failed"))
    query = filter_stoves(filter_results(query, filters), filters)
    query = query.where(tuple_(CHECK_KEY.c.checklist, CHECK_KEY.c.step).in_(sorted(steps)))
    by_stove = query.group_by(INSPECTION.c.no, *keys).subquery()
    sums = (func.count(), func.sum(by_stove.c.failed))
    parts = (by_stove.c.checklist, by_stove.c.part)
    counted = select(*parts, *sums).group_by(*parts)
    return [PartCount(*row) for row in connection.execute(counted)]


def _filter_tallies(
    query: Select[Any],
    kind: str,
    filters: Filters,
    steps: Collection[StepRef] | None,
    *,
    has_days: bool = True,
) -> Select[Any]:
    query = query.where(TALLY.c.kind == kind)
    if not filters.has_rework:
        query = query.where(TALLY.c.is_first_pass)
    for column, value in (
        (TALLY.c.batch, filters.batch),
        (TALLY.c.size, filters.size),
        (TALLY.c.stage, filters.stage),
    ):
        if value is not None:
            query = query.where(column == value)
    if has_days and filters.since is not None:
        query = query.where(TALLY.c.day >= filters.since)
    if has_days and filters.until is not None:
        query = query.where(TALLY.c.day <= filters.until)
    if steps is None or kind == "part":
        return query
    column = TALLY.c.name if kind == "step" else TALLY.c.step
    return query.where(tuple_(TALLY.c.checklist, column).in_(sorted(steps)))
