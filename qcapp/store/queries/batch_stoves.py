"""What a batch summary says of the batch's stoves, each counted by one query.

here: which stoves are meant, as a condition on the table.
"""

from collections.abc import Iterable

from sqlalchemy import ColumnElement, Connection, Integer, case, func, select

from qcapp.inspection.batch_facts import (
    SEVERITIES,
    ConcededFault,
    ResultGroup,
    StoveEnd,
    StovePass,
)
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.projections.tallies import join_results
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE

Here = ColumnElement[bool]
RELEASED = ("release", "concession")
MADE = ("pass", "fail", "doubtful")
IS_LATER = (STOVE.c.inspections > 1) | STOVE.c.decided_by.is_not(None)
# Why a stove is where it is: of the lead's decision, else of its last inspection.
REASON = func.coalesce(STOVE.c.decision_reason, INSPECTION.c.reason).label("reason")
_INSPECTED = RESULT.join(INSPECTION, RESULT.c.inspection_no == INSPECTION.c.no).join(
    STOVE, INSPECTION.c.stove_no == STOVE.c.no
)


def count_dispositions(connection: Connection, here: Here) -> dict[str, int]:
    query = select(STOVE.c.disposition, func.count()).where(here).group_by(STOVE.c.disposition)
    return dict(connection.execute(query).all())


def count_released_later(connection: Connection, here: Here) -> int:
    """Released, but not at the first inspection: at a later one, or by the lead after a hold."""
    query = select(func.count()).where(here, STOVE.c.disposition == "release", IS_LATER)
    return connection.execute(query).scalar_one()


def list_released_later(connection: Connection, codes: Iterable[str]) -> dict[tuple[str, str], int]:
    """{(batch, stage): stoves}, as `count_released_later` counts them."""
    key = (STOVE.c.batch, STOVE.c.stage)
    query = (
        select(*key, func.count())
        .where(STOVE.c.batch.in_(list(codes)), STOVE.c.disposition == "release", IS_LATER)
        .group_by(*key)
    )
    return {(batch, stage): count for batch, stage, count in connection.execute(query)}


def count_inspectors(connection: Connection, here: Here) -> dict[str, int]:
    """Stoves that each inspected."""
    query = (
        select(INSPECTION.c.inspector, func.count(INSPECTION.c.stove_no.distinct()))
        .select_from(INSPECTION.join(STOVE, INSPECTION.c.stove_no == STOVE.c.no))
        .where(here)
        .group_by(INSPECTION.c.inspector)
        .order_by(INSPECTION.c.inspector)
    )
    return dict(connection.execute(query).all())


def list_first_passes(connection: Connection, here: Here) -> tuple[StovePass, ...]:
    """By serial."""
    columns: list[ColumnElement[int]] = []
    for severity in SEVERITIES:
        is_it = CHECK_KEY.c.severity == severity
        columns += [
            _count_when(is_it & RESULT.c.is_fail),
            _count_when(is_it & (RESULT.c.verdict == "missing")),
            _count_when(is_it & RESULT.c.verdict.in_(MADE)),
        ]
    query = (
        select(STOVE.c.serial, func.min(INSPECTION.c.captured_at), *columns)
        .select_from(join_results())
        .where(here, INSPECTION.c.is_first_pass)
        .group_by(STOVE.c.no)
        .order_by(STOVE.c.serial)
    )
    return tuple(
        StovePass(
            row[0],
            row[1],
            *(dict(zip(SEVERITIES, row[place::3], strict=True)) for place in (2, 3, 4)),
        )
        for row in connection.execute(query)
    )


def _count_when(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(case((condition, 1), else_=0))


def count_checks(connection: Connection, here: Here) -> list[tuple[str, str, int]]:
    """[(checklist's hash, check, how often it was asked at first pass)]"""
    groups = (
        select(RESULT.c.check_no, func.count().label("asked"))
        .select_from(_INSPECTED)
        .where(here, INSPECTION.c.is_first_pass)
        .group_by(RESULT.c.check_no)
        .subquery()
    )
    query = select(CHECK_KEY.c.checklist_hash, CHECK_KEY.c.check_id, groups.c.asked).join(
        groups, CHECK_KEY.c.no == groups.c.check_no
    )
    return [(key, check, asked) for key, check, asked in connection.execute(query)]


def list_result_groups(connection: Connection, here: Here) -> tuple[ResultGroup, ...]:
    """Grouped by the check's small number; its names are joined to the few groups afterwards."""
    keys = (
        RESULT.c.check_no,
        STOVE.c.size,
        RESULT.c.verdict,
        RESULT.c.is_fail,
        RESULT.c.fault,
        RESULT.c.value,
    )
    groups = (
        select(*keys, func.count().label("stoves"))
        .select_from(_INSPECTED)
        .where(here, INSPECTION.c.is_first_pass)
        .group_by(*keys)
        .subquery()
    )
    named = (
        CHECK_KEY.c.checklist_hash,
        CHECK_KEY.c.check_id,
        CHECK_KEY.c.part,
        CHECK_KEY.c.severity,
    )
    query = (
        select(*named, *(column for column in groups.c if column.name != "check_no"))
        .select_from(groups.join(CHECK_KEY, CHECK_KEY.c.no == groups.c.check_no))
        .order_by(
            CHECK_KEY.c.no,
            groups.c.size,
            groups.c.verdict,
            groups.c.is_fail,
            groups.c.fault.nulls_first(),
            groups.c.value.nulls_first(),
        )
    )
    return tuple(ResultGroup(*row) for row in connection.execute(query))


def list_ends(connection: Connection, here: Here) -> tuple[StoveEnd, ...]:
    """Of the stoves that were not simply released, by serial."""
    last = (
        select(func.max(INSPECTION.c.no))
        .where(INSPECTION.c.stove_no == STOVE.c.no)
        .correlate(STOVE)
        .scalar_subquery()
    )
    query = (
        select(STOVE.c.stove_key, STOVE.c.serial, STOVE.c.disposition, REASON)
        .select_from(STOVE.join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no))
        .where(here, STOVE.c.disposition != "release", INSPECTION.c.no == last)
        .order_by(STOVE.c.serial)
    )
    return tuple(StoveEnd(*row) for row in connection.execute(query))


def find_days(connection: Connection, here: Here) -> tuple[str, str] | None:
    """First and last day of an inspection, None before any."""
    query = (
        select(func.min(INSPECTION.c.captured_at), func.max(INSPECTION.c.captured_at))
        .select_from(INSPECTION.join(STOVE, INSPECTION.c.stove_no == STOVE.c.no))
        .where(here)
    )
    first, last = connection.execute(query).one()
    return (first[:10], last[:10]) if first else None


def list_conceded_faults(connection: Connection, here: Here) -> tuple[ConcededFault, ...]:
    """By serial, then in the order of the checks."""
    order = func.row_number().over(
        partition_by=(STOVE.c.no, CHECK_KEY.c.checklist, CHECK_KEY.c.check_id),
        order_by=INSPECTION.c.no.desc(),
    )
    last = (
        select(
            STOVE.c.serial,
            CHECK_KEY.c.checklist_hash,
            CHECK_KEY.c.check_id,
            CHECK_KEY.c.severity,
            RESULT.c.fault,
            RESULT.c.value,
            RESULT.c.is_fail,
            CHECK_KEY.c.no,
            order.label("place"),
        )
        .select_from(join_results())
        .where(here, STOVE.c.disposition == "concession", RESULT.c.verdict != "missing")
        .subquery()
    )
    query = (
        select(*list(last.c)[:6])
        .where(last.c.place == 1, last.c.is_fail)
        .order_by(last.c.serial, last.c.no)
    )
    return tuple(ConcededFault(*row) for row in connection.execute(query))


def find_photos(connection: Connection, ends: Iterable[StoveEnd]) -> dict[str, tuple[str, ...]]:
    """By serial, of conceded stoves."""
    conceded = [end for end in ends if end.disposition == "concession"]
    events = log.list_stove_events(connection, [end.stove_key for end in conceded])
    found = {}
    for end in conceded:
        inspections = fold_stove(events[end.stove_key])["inspections"]
        found[end.serial] = tuple(
            dict.fromkeys(photo for inspection in inspections for photo in inspection["photos"])
        )
    return found


def find_never_looked(connection: Connection, here: Here) -> dict[str, dict[str, int]]:
    """{serial: {severity: checks}} of released stoves with checks that no inspection looked at.

    Only stoves with such a check at first pass are asked for.
    """
    asked = (
        select(INSPECTION.c.stove_no)
        .select_from(join_results())
        .where(
            here,
            INSPECTION.c.is_first_pass,
            RESULT.c.verdict == "missing",
            STOVE.c.disposition.in_(RELEASED),
        )
        .distinct()
    )
    is_seen = func.max((RESULT.c.verdict != "missing").cast(Integer))
    unseen = (
        select(STOVE.c.serial, CHECK_KEY.c.severity)
        .select_from(join_results())
        .where(here, STOVE.c.no.in_(asked))
        .group_by(STOVE.c.no, CHECK_KEY.c.checklist, CHECK_KEY.c.check_id, CHECK_KEY.c.severity)
        .having(is_seen == 0)
        .subquery()
    )
    found: dict[str, dict[str, int]] = {}
    query = select(unseen.c.serial, unseen.c.severity, func.count()).group_by(
        unseen.c.serial, unseen.c.severity
    )
    for serial, severity, count in connection.execute(query):
        found.setdefault(serial, dict.fromkeys(SEVERITIES, 0))[severity] = count
    return found


def find_open_fails(connection: Connection, here: Here) -> dict[str, dict[str, int]]:
    """{disposition: {severity: stoves}} of released stoves whose last look at a check failed.

    Only stoves inspected more than once are asked for: what a single inspection released has no
    failed check, what it conceded has the faults of its first pass.
    """
    order = func.row_number().over(
        partition_by=(STOVE.c.no, CHECK_KEY.c.checklist, CHECK_KEY.c.check_id),
        order_by=INSPECTION.c.no.desc(),
    )
    last = (
        select(
            STOVE.c.no,
            STOVE.c.disposition,
            CHECK_KEY.c.severity,
            RESULT.c.is_fail,
            order.label("place"),
        )
        .select_from(join_results())
        .where(
            here,
            STOVE.c.inspections > 1,
            STOVE.c.disposition.in_(RELEASED),
            RESULT.c.verdict != "missing",
        )
        .subquery()
    )
    query = (
        select(last.c.disposition, last.c.severity, func.count(last.c.no.distinct()))
        .where(last.c.place == 1, last.c.is_fail)
        .group_by(last.c.disposition, last.c.severity)
    )
    found = {kind: dict.fromkeys(SEVERITIES, 0) for kind in RELEASED}
    for disposition, severity, stoves in connection.execute(query):
        found[disposition][severity] = stoves
    return found
