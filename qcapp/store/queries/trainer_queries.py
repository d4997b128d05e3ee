"""What the trainer's pages are made from: tallies of everybody, one artisan's own stoves, photos."""

from collections import Counter
from collections.abc import Collection
from datetime import date, timedelta

from sqlalchemy import Connection, Integer, Select, case, func, select

from qcapp.inspection.stove import fold_stove
from qcapp.inspection.tallies import (
    COUNTED_VERDICTS,
    SEVERITY_RANK,
    FaultCount,
    Filters,
    SideCount,
    StepInspection,
    StepTally,
)
from qcapp.store.log import list_stove_events
from qcapp.store.projections.tallies import Tally, join_results
from qcapp.store.registry.photos import list_whole
from qcapp.store.tables import CheckKey, Inspection, Log, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE, TALLY = (
    table.__table__ for table in (CheckKey, Inspection, Result, Stove, Tally)
)
LOG = Log.__table__
RANK_SEVERITY = {rank: severity for severity, rank in SEVERITY_RANK.items()}
# Half a year: what the trainer teaches next rests on how the work is done now.
RECENT_DAYS = 180


def find_first_day(connection: Connection) -> str | None:
    """ISO date that the newest half year begins with; None when nothing was inspected."""
    newest = connection.execute(
        select(func.max(TALLY.c.day)).where(TALLY.c.kind == "part")
    ).scalar()
    return (
        (date.fromisoformat(newest) - timedelta(days=RECENT_DAYS - 1)).isoformat()
        if newest
        else None
    )


def _filtered(
    query: Select,
    kind: str,
    filters: Filters,
    steps: Collection[str] | None,
    *,
    has_days: bool = True,
) -> Select:
    """steps: those of the filtered trade, since a trade belongs to the checklist, not to a row."""
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
    column = TALLY.c.name if kind == "step" else TALLY.c.step
    return query if steps is None or kind == "part" else query.where(column.in_(sorted(steps)))


def list_step_tallies(
    connection: Connection,
    filters: Filters,
    steps: Collection[str] | None = None,
    *,
    has_made_before: bool = False,
) -> list[StepTally]:
    """By step, artisan, batch and day. has_made_before: reads all of the past for StepTally.made_before."""
    keys = (TALLY.c.name, TALLY.c.artisan, TALLY.c.batch, TALLY.c.day)
    sums = [
        func.sum(column)
        for column in (
            TALLY.c.inspected,
            TALLY.c.failed,
            TALLY.c.critical,
            TALLY.c.major,
            TALLY.c.minor,
        )
    ]
    query = (
        _filtered(select(*keys, *sums), "step", filters, steps)
        .group_by(*keys)
        .order_by(TALLY.c.day, *keys[:3])
    )
    made = _count_made_before(connection) if has_made_before else {}
    return [
        StepTally(
            step,
            artisan or None,
            batch,
            day,
            *counts,
            made_before=made.get((artisan, step, day), 0),
        )
        for step, artisan, batch, day, *counts in connection.execute(query)
    ]


def _count_made_before(connection: Connection) -> dict[tuple[str, str, str], int]:
    """First passes of each artisan's step before each day on which it was looked at."""
    keys = (TALLY.c.artisan, TALLY.c.name, TALLY.c.day)
    first = case((TALLY.c.is_first_pass, TALLY.c.inspected), else_=0)
    query = (
        select(*keys, func.sum(first))
        .where(TALLY.c.kind == "step", TALLY.c.artisan != "")
        .group_by(*keys)
        .order_by(*keys)
    )
    made: Counter = Counter()
    before = {}
    for artisan, step, day, count in connection.execute(query):
        before[artisan, step, day] = made[artisan, step]
        made[artisan, step] += count
    return before


def count_around(
    connection: Connection, filters: Filters, step: str, held_on: str, window: tuple[str, str]
) -> list[SideCount]:
    """Visits before and after a day by artisan, the day itself left out. window: first day, day after the last.

    The filters' days are left out: a lesson is held against what came before it.
    """
    is_after = (TALLY.c.day > held_on).label("is_after")
    query = select(TALLY.c.artisan, is_after, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed))
    query = _filtered(query, "step", filters, {step}, has_days=False).where(
        TALLY.c.artisan != "",
        TALLY.c.day >= window[0],
        TALLY.c.day < window[1],
        TALLY.c.day != held_on,
    )
    return [
        SideCount(artisan, bool(after), *counts)
        for artisan, after, *counts in connection.execute(query.group_by(TALLY.c.artisan, is_after))
    ]


def list_fault_counts(
    connection: Connection, filters: Filters, steps: Collection[str] | None = None
) -> list[FaultCount]:
    """Failed checks by fault and artisan, the most frequent first."""
    keys = (TALLY.c.step, TALLY.c.name, TALLY.c.fault, TALLY.c.severity, TALLY.c.artisan)
    failed = func.sum(TALLY.c.failed)
    query = (
        _filtered(select(*keys, failed), "fault", filters, steps)
        .group_by(*keys)
        .order_by(failed.desc(), *keys)
    )
    return [
        FaultCount(step, check, fault or None, severity, artisan or None, count)
        for step, check, fault, severity, artisan, count in connection.execute(query)
    ]


def list_part_counts(
    connection: Connection, filters: Filters, steps: Collection[str] | None = None
) -> list:
    """Rows (part, inspected, failed): stoves looked at and failed on a part."""
    if steps is not None:
        return _list_part_counts_of_steps(connection, filters, steps)
    sums = (
        func.sum(TALLY.c.inspected).label("inspected"),
        func.sum(TALLY.c.failed).label("failed"),
    )
    query = _filtered(select(TALLY.c.name.label("part"), *sums), "part", filters, None)
    return list(connection.execute(query.group_by(TALLY.c.name)))


def _list_part_counts_of_steps(
    connection: Connection, filters: Filters, steps: Collection[str]
) -> list:
    """From the rows: a part's tally does not say which of its steps a stove failed."""
    query = select(CHECK_KEY.c.part, func.max(RESULT.c.is_fail.cast(Integer)).label("failed"))
    query = _filtered_rows(query, filters).where(CHECK_KEY.c.step.in_(sorted(steps)))
    for column, value in (
        (STOVE.c.batch, filters.batch),
        (STOVE.c.size, filters.size),
        (STOVE.c.stage, filters.stage),
    ):
        if value is not None:
            query = query.where(column == value)
    by_stove = query.group_by(INSPECTION.c.no, CHECK_KEY.c.part).subquery()
    sums = (func.count().label("inspected"), func.sum(by_stove.c.failed).label("failed"))
    return list(connection.execute(select(by_stove.c.part, *sums).group_by(by_stove.c.part)))


def _filtered_rows(query: Select, filters: Filters) -> Select:
    """Looks between the filters' days."""
    query = query.select_from(join_results()).where(
        RESULT.c.verdict.in_(COUNTED_VERDICTS), _is_since(filters.since)
    )
    if not filters.has_rework:
        query = query.where(INSPECTION.c.is_first_pass)
    # "~" sorts after every character of a moment, so the whole last day is in.
    return (
        query.where(INSPECTION.c.captured_at <= f"{filters.until}~")
        if filters.until is not None
        else query
    )


def _is_since(day: str | None):
    """As a list of visits, so that the database goes from the few newest to their results and not through all results."""
    return RESULT.c.inspection_no.in_(
        select(INSPECTION.c.no).where(INSPECTION.c.captured_at >= (day or ""))
    )


def list_step_inspections(
    connection: Connection, artisan: str, filters: Filters, steps: Collection[str] | None = None
) -> list[StepInspection]:
    """The artisan's own stoves by step, in order of captured time."""
    made = _count_made_until(connection, artisan, filters.since)
    found = []
    for row in connection.execute(_query_inspections(artisan, filters)):
        before = made[row.step]
        made[row.step] += row.is_first_pass
        wanted = ((filters.batch, row.batch), (filters.size, row.size), (filters.stage, row.stage))
        if all(wish in (None, own) for wish, own in wanted) and (
            steps is None or row.step in steps
        ):
            found.append(
                StepInspection(
                    row.stove_key, row.step, before, bool(row.failed), RANK_SEVERITY.get(row.rank)
                )
            )
    return found


def _query_inspections(artisan: str, filters: Filters) -> Select:
    """Between the filters' days; batch, size and stage are left in, for the stoves are numbered as they were made."""
    rank = case(
        (RESULT.c.is_fail, case(SEVERITY_RANK, value=CHECK_KEY.c.severity, else_=0)), else_=0
    )
    keys = (
        INSPECTION.c.no,
        INSPECTION.c.captured_at,
        INSPECTION.c.is_first_pass,
        CHECK_KEY.c.step,
        STOVE.c.stove_key,
        STOVE.c.batch,
        STOVE.c.size,
        STOVE.c.stage,
    )
    query = select(
        *keys,
        func.max(RESULT.c.is_fail.cast(Integer)).label("failed"),
        func.max(rank).label("rank"),
    )
    query = _filtered_rows(query, filters).where(RESULT.c.artisan == artisan)
    return query.group_by(*keys).order_by(
        INSPECTION.c.captured_at, INSPECTION.c.no, CHECK_KEY.c.step
    )


def _count_made_until(connection: Connection, artisan: str, day: str | None) -> Counter:
    """First passes of the artisan before the day, by step."""
    query = select(TALLY.c.name, func.sum(TALLY.c.inspected)).where(
        TALLY.c.kind == "step",
        TALLY.c.artisan == artisan,
        TALLY.c.is_first_pass,
        TALLY.c.day < (day or ""),
    )
    return Counter(dict(connection.execute(query.group_by(TALLY.c.name)).all()))


def list_fault_photos(
    connection: Connection,
    artisan: str,
    steps: Collection[str],
    *,
    since: str | None,
    limit: int = 12,
) -> list[dict]:
    """Newest photos of failed checks of the artisan's steps, as the stoves' records stand now.

    Each: sha256, stove, check_id, captured_at, is_whole (False while it is on its way).
    """
    with_photos = (
        select(LOG.c.seq)
        .where(LOG.c.stove_key == STOVE.c.stove_key, LOG.c.raw.like('%"photos":["%'))
        .exists()
    )
    query = (
        select(
            INSPECTION.c.event_id, INSPECTION.c.captured_at, STOVE.c.stove_key, CHECK_KEY.c.check_id
        )
        .select_from(join_results())
        .where(
            _is_since(since),
            RESULT.c.artisan == artisan,
            RESULT.c.is_fail,
            CHECK_KEY.c.step.in_(sorted(steps)),
            with_photos,
        )
        .order_by(INSPECTION.c.captured_at.desc())
        .limit(limit * 4)
    )
    rows = list(connection.execute(query))
    answers = _load_answers(connection, {row.stove_key for row in rows})
    found = [
        {
            "sha256": sha256,
            "stove": row.stove_key,
            "check_id": row.check_id,
            "captured_at": row.captured_at,
        }
        for row in rows
        for sha256 in answers.get(row.event_id, {}).get(row.check_id, {}).get("photos") or []
    ][:limit]
    whole = list_whole(connection, {photo["sha256"] for photo in found})
    return [{**photo, "is_whole": photo["sha256"] in whole} for photo in found]


def _load_answers(connection: Connection, stove_keys: Collection[str]) -> dict[str, dict]:
    """{event id of a visit: {check id: answer}} with corrections and quarantine decisions applied."""
    events = list_stove_events(connection, stove_keys)
    return {
        inspection["id"]: inspection["body"]["answers"]
        for key in events
        for inspection in fold_stove(events[key])["inspections"]
    }
