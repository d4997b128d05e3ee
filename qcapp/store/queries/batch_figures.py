"""Counts of one batch for its page, and its rows for the tables."""

from sqlalchemy import Connection, func, select

from qcapp.inspection.tallies import CheckTally, FaultTally
from qcapp.store.projections.tallies import Tally, join_results
from qcapp.store.tables import CheckKey, Inspection, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE, TALLY = (
    table.__table__ for table in (CheckKey, Inspection, Result, Stove, Tally)
)


def _first_passes(kind: str, batch: str, stage: str):
    return (
        (TALLY.c.kind == kind)
        & (TALLY.c.batch == batch)
        & (TALLY.c.stage == stage)
        & TALLY.c.is_first_pass
    )


def list_check_tallies(connection: Connection, batch: str, stage: str) -> list[CheckTally]:
    keys = (TALLY.c.name, TALLY.c.part, TALLY.c.step, TALLY.c.severity)
    query = select(
        *keys, func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed), func.sum(TALLY.c.doubtful)
    )
    query = query.where(_first_passes("check", batch, stage)).group_by(*keys).order_by(*keys)
    return [CheckTally(*row) for row in connection.execute(query)]


def list_fault_tallies(connection: Connection, batch: str, stage: str) -> list[FaultTally]:
    keys = (
        TALLY.c.name,
        TALLY.c.part,
        TALLY.c.step,
        TALLY.c.severity,
        func.nullif(TALLY.c.fault, ""),
    )
    query = select(*keys, func.sum(TALLY.c.failed)).where(_first_passes("fault", batch, stage))
    query = query.group_by(*keys[:4], TALLY.c.fault).order_by(*keys[:4], TALLY.c.fault)
    return [FaultTally(*row) for row in connection.execute(query)]


def count_failed_stoves(connection: Connection, batch: str, stage: str) -> dict[str, int]:
    """Stoves of the batch with at least one failed check at first pass, by severity."""
    query = (
        select(TALLY.c.name, func.sum(TALLY.c.failed))
        .where(_first_passes("severity", batch, stage))
        .group_by(TALLY.c.name)
    )
    return dict(connection.execute(query).all())


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
            STOVE.c.stage,
            STOVE.c.serial,
            INSPECTION.c.captured_at,
            INSPECTION.c.is_first_pass,
            CHECK_KEY.c.check_id,
            RESULT.c.artisan,
            RESULT.c.verdict,
            RESULT.c.fault,
            RESULT.c.value,
        )
        .select_from(join_results())
        .where(STOVE.c.batch == batch)
        .order_by(STOVE.c.stage, STOVE.c.serial, INSPECTION.c.no, CHECK_KEY.c.no)
    )
    return list(connection.execute(query))
