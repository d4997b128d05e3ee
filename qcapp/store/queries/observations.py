"""First passes in the order they were captured: what charts over time and spreads are made from."""

import json

from sqlalchemy import Connection, select

from qcapp.inspection.tallies import COUNTED_VERDICTS, CheckObservation
from qcapp.store.tables import CheckKey, Inspection, Log, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE = (
    table.__table__ for table in (CheckKey, Inspection, Result, Stove)
)
LOG = Log.__table__


def list_observations(connection: Connection, *, newest: int) -> list[CheckObservation]:
    """Every counted check of the newest first passes (so many articles), oldest first."""
    chosen = (
        select(
            INSPECTION.c.no,
            STOVE.c.stove_key,
            STOVE.c.stage,
            STOVE.c.size,
            STOVE.c.batch,
            INSPECTION.c.captured_at,
        )
        .join(STOVE, INSPECTION.c.stove_no == STOVE.c.no)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    )
    inspections = {no: tuple(words) for no, *words in connection.execute(chosen).all()}
    checks = {
        no: tuple(words)
        for no, *words in connection.execute(
            select(CHECK_KEY.c.no, CHECK_KEY.c.check_id, CHECK_KEY.c.step)
        ).all()
    }
    # Numbers only, the words once for a visit: twenty checks a visit would carry them twenty times.
    query = (
        select(
            RESULT.c.inspection_no,
            RESULT.c.check_no,
            RESULT.c.artisan,
            RESULT.c.is_fail,
            RESULT.c.value,
        )
        .where(
            RESULT.c.inspection_no.in_(select(chosen.subquery().c.no)),
            RESULT.c.verdict.in_(COUNTED_VERDICTS),
        )
        .order_by(RESULT.c.inspection_no, RESULT.c.check_no)
    )
    by_inspection: dict[int, list[CheckObservation]] = {no: [] for no in reversed(inspections)}
    for inspection_no, check_no, *answer in connection.execute(query).all():
        by_inspection[inspection_no].append(
            CheckObservation._make((*inspections[inspection_no], *checks[check_no], *answer))
        )
    return [observation for observations in by_inspection.values() for observation in observations]


def list_first_passes(connection: Connection, *, newest: int) -> list:
    """Rows (stove_key, batch, inspector, captured_at) of the newest first passes, newest first."""
    query = (
        select(STOVE.c.stove_key, STOVE.c.batch, INSPECTION.c.inspector, INSPECTION.c.captured_at)
        .join(STOVE, INSPECTION.c.stove_no == STOVE.c.no)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    )
    return list(connection.execute(query))


def list_first_events(connection: Connection, *, newest: int) -> list[dict]:
    """The events of the newest first passes as they were captured, oldest first."""
    # The visits first: else the database reads every record to find the few.
    newest_first = (
        select(INSPECTION.c.event_id)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    )
    query = select(LOG.c.raw).where(LOG.c.id.in_(newest_first), LOG.c.state == "counted")
    return sorted(
        (json.loads(raw) for raw in connection.execute(query).scalars()),
        key=lambda event: event["captured_at"],
    )
