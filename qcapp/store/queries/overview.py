"""One yard in a few counts, for who looks at several yards from outside: no name, no record."""

import json
from typing import Any, NamedTuple

from sqlalchemy import Connection, Integer, func, select

from qcapp.store.log import count_waiting, list_server_events
from qcapp.store.queries.waiting import list_open_words
from qcapp.store.tables import CHECK_KEY, DEVICE, INSPECTION, RESULT, STOVE, TALLY


class FirstPasses(NamedTuple):
    """Articles first inspected by one published checklist, of one size and batch, in one month
    (2026-11). failed: at least one check; unsure: nothing failed, but a check was left out.
    """

    checklist_hash: str
    stage: str
    size: str
    batch: str
    month: str
    inspected: int
    failed: int
    unsure: int


def count_yard(connection: Connection, *, silent_before: str) -> dict[str, Any]:
    """Counts: inspected and failed (finished stoves, first pass), quarantined (records waiting for
    a decision), held (stoves waiting for one), refused (batches whose buyer's last answer is no),
    asked (batches with a question that nobody replied to), phones (not signed off), silent (of
    these, without contact since `silent_before`), last_contact_at (or None).
    """
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
    own = DEVICE.c.revoked_at.is_(None) & DEVICE.c.buyer_batch.is_(None)
    phones = connection.execute(query.where(own)).one()
    return {
        **stoves._asdict(),
        **phones._asdict(),
        "quarantined": count_waiting(connection),
        "held": count_held(connection),
        "refused": count_refused(connection),
        "asked": count_asked(connection),
    }


def count_finished_stoves(connection: Connection) -> int:
    """Liners and kiln loads looked at in earlier stages are not stoves."""
    return connection.execute(select(func.count()).where(STOVE.c.stage == "finished")).scalar_one()


def list_first_passes(connection: Connection, since: str) -> list[FirstPasses]:
    """Of articles whose first inspection was captured at `since` (a timestamp) or later."""
    # The checklist that an inspection was made by is known by its results; one of them will do.
    first = (
        select(func.min(RESULT.c.check_no))
        .where(RESULT.c.inspection_no == INSPECTION.c.no)
        .scalar_subquery()
    )
    month = func.substr(INSPECTION.c.captured_at, 1, 7).label("month")
    keys = (CHECK_KEY.c.checklist_hash, STOVE.c.stage, STOVE.c.size, STOVE.c.batch, month)
    failed = STOVE.c.has_first_pass_fail.cast(Integer)
    unsure = (STOVE.c.has_first_pass_gap & ~STOVE.c.has_first_pass_fail).cast(Integer)
    query = (
        select(*keys, func.count(), func.sum(failed), func.sum(unsure))
        .select_from(STOVE)
        .join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no)
        .join(CHECK_KEY, CHECK_KEY.c.no == first)
        .where(INSPECTION.c.is_first_pass, INSPECTION.c.captured_at >= since)
        .group_by(*keys)
        .order_by(*keys)
    )
    return [FirstPasses(*row) for row in connection.execute(query)]


def count_held(connection: Connection) -> int:
    """Finished stoves that wait for a decision."""
    query = select(func.count()).where(STOVE.c.stage == "finished", STOVE.c.disposition == "hold")
    return connection.execute(query).scalar_one()


def count_refused(connection: Connection) -> int:
    """Batches of which the buyer's last answer is no."""
    last = {
        record.batch: json.loads(record.raw)["body"]["answer"]
        for record in list_server_events(connection, ("buyer_answer",))
    }
    return sum(answer == "reject" for answer in last.values())


def count_asked(connection: Connection) -> int:
    """Batches with a question to which nobody has replied."""
    words = list_open_words(connection)
    return len({word.batch for word in words if word.body.get("answer") == "question"})
