"""What the trainer's page is made from: stoves by step and artisan, faults, photos."""

from collections.abc import Collection

from sqlalchemy import Connection, Integer, case, func, select

from qcapp.inspection.tallies import FaultCount, Filters, StepVisit
from qcapp.inspection.stove import fold_stove
from qcapp.store.figures import LOOKED_AT, join_results
from qcapp.store.log import list_stove_events
from qcapp.store.photos import list_whole
from qcapp.store.tables import CheckKey, Inspection, Log, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE = (table.__table__ for table in (CheckKey, Inspection, Result, Stove))
LOG = Log.__table__
SEVERITY_RANK = {"critical": 3, "major": 2, "minor": 1}
RANK_SEVERITY = {rank: severity for severity, rank in SEVERITY_RANK.items()}


def _filtered(query, filters: Filters, steps: Collection[str] | None):
    """steps: those of the filtered trade, since a trade belongs to the checklist, not to a row."""
    query = query.where(RESULT.c.verdict.in_(LOOKED_AT))
    if not filters.has_rework:
        query = query.where(INSPECTION.c.is_first_pass)
    for column, value in ((STOVE.c.batch, filters.batch), (STOVE.c.size, filters.size), (STOVE.c.stage, filters.stage)):
        if value is not None:
            query = query.where(column == value)
    if filters.since is not None:
        query = query.where(INSPECTION.c.captured_at >= filters.since)
    if filters.until is not None:
        # "~" sorts after every character of a moment, so the whole last day is in.
        query = query.where(INSPECTION.c.captured_at <= f"{filters.until}~")
    return query if steps is None else query.where(CHECK_KEY.c.step.in_(sorted(steps)))


def _rank():
    return case((RESULT.c.is_fail, case(SEVERITY_RANK, value=CHECK_KEY.c.severity, else_=0)), else_=0)


def _earlier_work():
    """Number of first passes of the artisan's step before each visit's own."""
    looked = (
        select(INSPECTION.c.no, CHECK_KEY.c.step, RESULT.c.artisan, INSPECTION.c.captured_at)
        .select_from(join_results())
        .where(INSPECTION.c.is_first_pass, RESULT.c.verdict.in_(LOOKED_AT), RESULT.c.artisan.is_not(None))
        .distinct()
        .subquery()
    )
    order = func.row_number().over(partition_by=(looked.c.artisan, looked.c.step), order_by=(looked.c.captured_at, looked.c.no))
    return select(looked.c.no, looked.c.step, looked.c.artisan, (order - 1).label("made_before")).subquery()


def list_visits(connection: Connection, filters: Filters, steps: Collection[str] | None = None) -> list[StepVisit]:
    """One row for each visit and step, in order of captured time."""
    earlier = _earlier_work()
    keys = (INSPECTION.c.no, STOVE.c.stove_key, CHECK_KEY.c.step, RESULT.c.artisan, STOVE.c.batch, INSPECTION.c.captured_at)
    query = (
        select(
            *keys[1:],
            func.coalesce(func.max(earlier.c.made_before), 0).label("made_before"),
            func.max(RESULT.c.is_fail.cast(Integer)).label("failed"),
            func.max(_rank()).label("rank"),
        )
        .select_from(
            join_results().outerjoin(
                earlier,
                (earlier.c.no == INSPECTION.c.no)
                & (earlier.c.step == CHECK_KEY.c.step)
                & (earlier.c.artisan == RESULT.c.artisan),
            )
        )
        .group_by(*keys)
        .order_by(INSPECTION.c.captured_at, INSPECTION.c.no, CHECK_KEY.c.step)
    )
    return [
        StepVisit(row.stove_key, row.step, row.artisan, row.batch, row.captured_at, row.made_before, bool(row.failed), RANK_SEVERITY.get(row.rank))
        for row in connection.execute(_filtered(query, filters, steps))
    ]


def list_fault_counts(connection: Connection, filters: Filters, steps: Collection[str] | None = None) -> list[FaultCount]:
    """Failed checks by fault and artisan, the most frequent first."""
    keys = (CHECK_KEY.c.step, CHECK_KEY.c.check_id, RESULT.c.fault, CHECK_KEY.c.severity, RESULT.c.artisan)
    query = select(*keys, func.count()).select_from(join_results()).where(RESULT.c.is_fail)
    query = _filtered(query, filters, steps).group_by(*keys).order_by(func.count().desc(), *keys)
    return [FaultCount(*row) for row in connection.execute(query)]


def list_part_counts(connection: Connection, filters: Filters, steps: Collection[str] | None = None) -> list:
    """Rows (part, inspected, failed): stoves looked at and failed on a part."""
    by_stove = _filtered(
        select(CHECK_KEY.c.part, func.max(RESULT.c.is_fail.cast(Integer)).label("failed")).select_from(join_results()), filters, steps
    ).group_by(INSPECTION.c.no, CHECK_KEY.c.part).subquery()
    query = select(by_stove.c.part, func.count().label("inspected"), func.sum(by_stove.c.failed).label("failed"))
    return list(connection.execute(query.group_by(by_stove.c.part)))


def list_fault_photos(connection: Connection, artisan: str, steps: Collection[str], limit: int = 12) -> list[dict]:
    """Newest photos of failed checks of the artisan's steps, as the stoves' records stand now.

    Each: sha256, stove, check_id, captured_at, is_whole (False while it is on its way).
    """
    with_photos = select(LOG.c.seq).where(LOG.c.stove_key == STOVE.c.stove_key, LOG.c.raw.like('%"photos":["%')).exists()
    query = (
        select(INSPECTION.c.event_id, INSPECTION.c.captured_at, STOVE.c.stove_key, CHECK_KEY.c.check_id)
        .select_from(join_results())
        .where(RESULT.c.artisan == artisan, RESULT.c.is_fail, CHECK_KEY.c.step.in_(sorted(steps)), with_photos)
        .order_by(INSPECTION.c.captured_at.desc())
        .limit(limit * 4)
    )
    rows = list(connection.execute(query))
    answers = _load_answers(connection, {row.stove_key for row in rows})
    found = [
        {"sha256": sha256, "stove": row.stove_key, "check_id": row.check_id, "captured_at": row.captured_at}
        for row in rows
        for sha256 in answers.get(row.event_id, {}).get(row.check_id, {}).get("photos") or []
    ][:limit]
    whole = list_whole(connection, {photo["sha256"] for photo in found})
    return [{**photo, "is_whole": photo["sha256"] in whole} for photo in found]


def _load_answers(connection: Connection, stove_keys: Collection[str]) -> dict[str, dict]:
    """{event id of a visit: {check id: answer}} with corrections and admissions applied."""
    events = list_stove_events(connection, stove_keys)
    return {visit["id"]: visit["body"]["answers"] for key in events for visit in fold_stove(events[key])["inspections"]}
