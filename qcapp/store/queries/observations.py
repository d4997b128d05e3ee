"""First passes in the order they were captured: for charts over time and spreads."""

import json
from typing import Any, NamedTuple

from sqlalchemy import Connection, Select, select

from qcapp.inspection.observations import CheckObservation
from qcapp.inspection.tallies import COUNTED_VERDICTS
from qcapp.store.tables import CHECK_KEY, INSPECTION, LOG, RESULT, STOVE, STOVE_NAME


class FirstPass(NamedTuple):
    """stove_key: however the serial was typed; serial: as it was typed."""

    stove_key: str
    stage: str
    serial: str
    batch: str
    inspector: str
    captured_at: str


def list_observations(connection: Connection, *, newest: int) -> list[CheckObservation]:
    """Every counted check of the newest first passes (so many articles), oldest first."""
    chosen = _select_newest(newest)
    inspections = {no: tuple(words) for no, *words in connection.execute(chosen).all()}
    checks = _name_checks(connection)
    by_inspection: dict[int, list[CheckObservation]] = {no: [] for no in reversed(inspections)}
    results = connection.execute(_select_results(chosen)).all()
    for inspection_no, check_no, *answer in results:
        by_inspection[inspection_no].append(
            CheckObservation._make((*inspections[inspection_no], *checks[check_no], *answer))
        )
    return [observation for observations in by_inspection.values() for observation in observations]


def _select_newest(newest: int) -> Select[Any]:
    """no of the inspection, then the first fields of a CheckObservation."""
    return (
        select(
            INSPECTION.c.no,
            STOVE_NAME,
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


def _name_checks(connection: Connection) -> dict[int, tuple[Any, ...]]:
    """By the number of its key, the fields of a CheckObservation that name a check."""
    named = select(
        CHECK_KEY.c.no,
        CHECK_KEY.c.checklist,
        CHECK_KEY.c.checklist_hash,
        CHECK_KEY.c.check_id,
        CHECK_KEY.c.step,
    )
    return {no: tuple(words) for no, *words in connection.execute(named).all()}


def _select_results(chosen: Select[Any]) -> Select[Any]:
    """Numbers only, the words once for an inspection: its twenty checks would carry them each."""
    return (
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


def list_first_passes(connection: Connection, *, newest: int) -> list[FirstPass]:
    """The newest first passes, newest first."""
    query = (
        select(
            STOVE.c.stove_key,
            STOVE.c.stage,
            STOVE.c.serial,
            STOVE.c.batch,
            INSPECTION.c.inspector,
            INSPECTION.c.captured_at,
        )
        .join(STOVE, INSPECTION.c.stove_no == STOVE.c.no)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    )
    return [FirstPass(*row) for row in connection.execute(query)]


def list_first_events(connection: Connection, *, newest: int) -> list[dict[str, Any]]:
    """The events of the newest first passes as they were captured, oldest first."""
    # The inspections first: else the database reads every record to find the few.
    newest_first = (
        select(INSPECTION.c.event_id)
        .where(INSPECTION.c.is_first_pass)
        .order_by(INSPECTION.c.captured_at.desc(), INSPECTION.c.no.desc())
        .limit(newest)
    )
    query = select(LOG.c.raw).where(LOG.c.id.in_(newest_first), LOG.c.state == "counted")
    events: list[dict[str, Any]] = [json.loads(raw) for raw in connection.execute(query).scalars()]
    return sorted(events, key=lambda event: str(event["captured_at"]))
