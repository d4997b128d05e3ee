"""Counts for the reports: one query each, grouped by the database."""

from sqlalchemy import Connection, Integer, case, func, select

from qcapp.inspection.tallies import CheckTally, FaultTally, StepTally
from qcapp.store.tables import CheckKey, Inspection, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE = (table.__table__ for table in (CheckKey, Inspection, Result, Stove))
LOOKED_AT = ("pass", "fail", "doubtful")


def join_results():
    """Results with their visit, stove and check: what every count is made from."""
    return RESULT.join(INSPECTION, RESULT.c.inspection_no == INSPECTION.c.no).join(
        STOVE, INSPECTION.c.stove_no == STOVE.c.no
    ).join(CHECK_KEY, RESULT.c.check_no == CHECK_KEY.c.no)


def _first_passes(*columns, batch: str | None, stage: str | None = None):
    query = select(*columns).select_from(join_results()).where(INSPECTION.c.is_first_pass, RESULT.c.verdict.in_(LOOKED_AT))
    if batch is not None:
        query = query.where(STOVE.c.batch == batch)
    return query.where(STOVE.c.stage == stage) if stage is not None else query


def list_step_tallies(connection: Connection, batch: str | None = None) -> list[StepTally]:
    """A stove whose width and area both fail counts once for the step that caused both."""
    by_stove = (
        _first_passes(
            CHECK_KEY.c.step,
            RESULT.c.artisan,
            STOVE.c.batch,
            func.max(RESULT.c.is_fail.cast(Integer)).label("failed"),
            batch=batch,
        )
        .group_by(INSPECTION.c.no, CHECK_KEY.c.step, RESULT.c.artisan, STOVE.c.batch)
        .subquery()
    )
    keys = (by_stove.c.step, by_stove.c.artisan, by_stove.c.batch)
    query = select(*keys, func.count(), func.sum(by_stove.c.failed)).group_by(*keys).order_by(*keys)
    return [StepTally(*row) for row in connection.execute(query)]


def list_check_tallies(connection: Connection, batch: str, stage: str) -> list[CheckTally]:
    keys = (CHECK_KEY.c.check_id, CHECK_KEY.c.part, CHECK_KEY.c.step, CHECK_KEY.c.severity)
    failed = func.sum(RESULT.c.is_fail.cast(Integer))
    doubtful = func.sum(case((RESULT.c.verdict == "doubtful", 1), else_=0))
    query = _first_passes(*keys, func.count(), failed, doubtful, batch=batch, stage=stage).group_by(*keys).order_by(*keys)
    return [CheckTally(*row) for row in connection.execute(query)]


def list_fault_tallies(connection: Connection, batch: str, stage: str) -> list[FaultTally]:
    keys = (CHECK_KEY.c.check_id, CHECK_KEY.c.part, CHECK_KEY.c.step, CHECK_KEY.c.severity, RESULT.c.fault)
    query = _first_passes(*keys, func.count(), batch=batch, stage=stage).where(RESULT.c.is_fail).group_by(*keys).order_by(*keys)
    return [FaultTally(*row) for row in connection.execute(query)]


def list_stoves(connection: Connection, batch: str) -> list:
    """Rows (stove, last inspector, reason) of a batch, by stage and serial."""
    query = (
        select(STOVE, INSPECTION.c.inspector, INSPECTION.c.reason)
        .join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no)
        .where(STOVE.c.batch == batch, INSPECTION.c.captured_at == STOVE.c.last_at)
        .order_by(STOVE.c.stage, STOVE.c.serial, INSPECTION.c.no)
    )
    newest = {row.stove_key: row for row in connection.execute(query)}
    return list(newest.values())


def list_readings(connection: Connection, batch: str) -> list:
    """Rows (stage, serial, captured_at, is_first_pass, check_id, artisan, verdict, fault, value)."""
    query = (
        select(
            STOVE.c.stage, STOVE.c.serial, INSPECTION.c.captured_at, INSPECTION.c.is_first_pass,
            CHECK_KEY.c.check_id, RESULT.c.artisan, RESULT.c.verdict, RESULT.c.fault, RESULT.c.value,
        )
        .select_from(join_results())
        .where(STOVE.c.batch == batch)
        .order_by(STOVE.c.stage, STOVE.c.serial, INSPECTION.c.no, CHECK_KEY.c.no)
    )
    return list(connection.execute(query))


def count_failed_stoves(connection: Connection, batch: str, stage: str) -> dict[str, int]:
    """Stoves of the batch with at least one failed check at first pass, by severity."""
    failed = (
        _first_passes(CHECK_KEY.c.severity, STOVE.c.no, batch=batch, stage=stage)
        .where(RESULT.c.is_fail)
        .distinct()
        .subquery()
    )
    query = select(failed.c.severity, func.count()).group_by(failed.c.severity)
    return dict(connection.execute(query).all())
