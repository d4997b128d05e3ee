"""First passes in the order they were captured: what charts over time and spreads are made from."""

import json

from sqlalchemy import Connection, select

from qcapp.inspection.tallies import LOOKED_AT, Look
from qcapp.store.tables import CheckKey, Inspection, Log, Result, Stove
from qcapp.store.tallies import join_results

CHECK_KEY, INSPECTION, RESULT, STOVE = (table.__table__ for table in (CheckKey, Inspection, Result, Stove))
LOG = Log.__table__


def list_looks(connection: Connection, *, newest: int) -> list[Look]:
    """Every counted check of the newest first passes (so many articles), oldest first."""
    chosen = select(INSPECTION.c.no).where(INSPECTION.c.is_first_pass).order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc()).limit(newest)
    query = (
        select(
            STOVE.c.stove_key, STOVE.c.stage, STOVE.c.size, STOVE.c.batch, INSPECTION.c.captured_at,
            CHECK_KEY.c.check_id, CHECK_KEY.c.step, RESULT.c.artisan, RESULT.c.is_fail, RESULT.c.value,
        )
        .select_from(join_results())
        .where(INSPECTION.c.no.in_(chosen), RESULT.c.verdict.in_(LOOKED_AT))
        .order_by(INSPECTION.c.captured_at, INSPECTION.c.no, CHECK_KEY.c.no)
    )
    return [Look(*row) for row in connection.execute(query)]


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
    newest_first = select(INSPECTION.c.event_id).where(INSPECTION.c.is_first_pass).order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc()).limit(newest)
    query = select(LOG.c.raw).where(LOG.c.id.in_(newest_first), LOG.c.state == "counted")
    return sorted((json.loads(raw) for raw in connection.execute(query).scalars()), key=lambda event: event["captured_at"])
