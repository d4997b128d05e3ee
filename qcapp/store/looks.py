"""First passes in the order they were captured: what charts over time and spreads are made from."""

from sqlalchemy import Connection, select

from qcapp.inspection.tallies import Look
from qcapp.store.figures import LOOKED_AT, join_results
from qcapp.store.tables import CheckKey, Inspection, Result, Stove

CHECK_KEY, INSPECTION, RESULT, STOVE = (table.__table__ for table in (CheckKey, Inspection, Result, Stove))


def list_looks(connection: Connection, *, newest: int) -> list[Look]:
    """Every counted check of the newest first passes (so many articles), oldest first."""
    chosen = select(INSPECTION.c.no).where(INSPECTION.c.is_first_pass).order_by(INSPECTION.c.captured_at.desc()).limit(newest)
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
