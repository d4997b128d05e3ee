"""One yard in a few counts, for who looks at several yards from outside: no name, no record."""

from typing import Any

from sqlalchemy import Connection, Integer, func, select

from qcapp.store.log import count_waiting
from qcapp.store.tables import DEVICE, STOVE, TALLY


def count_yard(connection: Connection, *, silent_before: str) -> dict[str, Any]:
    """Counts: inspected and failed (finished stoves, first pass), quarantined (records waiting for
    a decision), phones (not signed off), silent (of these, without contact since `silent_before`),
    last_contact_at (or None)."""
    sums = (
        func.coalesce(func.sum(column), 0).label(column.name)
        for column in (TALLY.c.inspected, TALLY.c.failed)
    )
    stoves = connection.execute(
        select(*sums).where(TALLY.c.kind == "stove", TALLY.c.day == "", TALLY.c.stage == "finished")
    ).one()
    # A phone that never called counts from the day it joined.
    last = func.coalesce(DEVICE.c.last_seen_at, DEVICE.c.joined_at)
    silent = func.coalesce(func.sum((last < silent_before).cast(Integer)), 0)
    query = select(
        func.count().label("phones"),
        silent.label("silent"),
        func.max(DEVICE.c.last_seen_at).label("last_contact_at"),
    )
    phones = connection.execute(query.where(DEVICE.c.revoked_at.is_(None))).one()
    return {**stoves._asdict(), "quarantined": count_waiting(connection), **phones._asdict()}


def count_finished_stoves(connection: Connection) -> int:
    """Liners and kiln loads looked at in earlier stages are not stoves."""
    return connection.execute(select(func.count()).where(STOVE.c.stage == "finished")).scalar_one()
