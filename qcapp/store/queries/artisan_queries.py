"""One artisan's own stoves, read from the rows of results, and photos of their faults."""

from collections import Counter
from collections.abc import Collection
from typing import Any

from sqlalchemy import Connection, Integer, Row, Select, case, func, select, tuple_

from qcapp.checklist.history import CheckRef, StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.observations import StepInspection
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.tallies import SEVERITY_RANK
from qcapp.store.log import list_stove_events
from qcapp.store.projections.tallies import join_results
from qcapp.store.queries.filtered_results import filter_results, filter_stoves, is_since
from qcapp.store.registry.photos import list_whole
from qcapp.store.tables import CHECK_KEY, INSPECTION, LOG, RESULT, STOVE, STOVE_NAME, TALLY

RANK_SEVERITY = {rank: severity for severity, rank in SEVERITY_RANK.items()}


def list_step_inspections(
    connection: Connection, artisan: str, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[StepInspection]:
    """The artisan's stoves by step, in order of captured time."""
    made = _count_made_until(connection, artisan, filters.since)
    found = []
    for row in connection.execute(_select_inspections(artisan, filters)):
        step = StepRef(row.checklist, row.step)
        before = made[step]
        made[step] += row.is_first_pass
        if _is_wanted(row, filters) and (steps is None or step in steps):
            found.append(
                StepInspection(
                    row.stove_name, step, before, bool(row.failed), RANK_SEVERITY.get(row.rank)
                )
            )
    return found


def _select_inspections(artisan: str, filters: Filters) -> Select[Any]:
    """Between the filters' days.

    Batch, size and stage are left in: the stoves are numbered as they were made.
    """
    rank = case(
        (RESULT.c.is_fail, case(SEVERITY_RANK, value=CHECK_KEY.c.severity, else_=0)), else_=0
    )
    keys = (
        INSPECTION.c.no,
        INSPECTION.c.captured_at,
        INSPECTION.c.is_first_pass,
        CHECK_KEY.c.checklist,
        CHECK_KEY.c.step,
        STOVE_NAME,
        STOVE.c.batch,
        STOVE.c.size,
        STOVE.c.stage,
    )
    query = select(
        *keys,
        func.max(RESULT.c.is_fail.cast(Integer)).label("failed"),
        func.max(rank).label("rank"),
    )
    query = filter_results(query, filters).where(RESULT.c.artisan == artisan)
    return query.group_by(*keys).order_by(
        INSPECTION.c.captured_at, INSPECTION.c.no, CHECK_KEY.c.checklist, CHECK_KEY.c.step
    )


def _is_wanted(row: Row[Any], filters: Filters) -> bool:
    wanted = ((filters.batch, row.batch), (filters.size, row.size), (filters.stage, row.stage))
    return all(wish in (None, found) for wish, found in wanted)


def _count_made_until(connection: Connection, artisan: str, day: str | None) -> Counter[StepRef]:
    """First passes of the artisan before the day, by step."""
    keys = (TALLY.c.checklist, TALLY.c.name)
    query = (
        select(*keys, func.sum(TALLY.c.inspected))
        .where(
            TALLY.c.kind == "step",
            TALLY.c.artisan == artisan,
            TALLY.c.is_first_pass,
            TALLY.c.day < (day or ""),
        )
        .group_by(*keys)
    )
    return Counter(
        {StepRef(checklist, name): made for checklist, name, made in connection.execute(query)}
    )


def list_fault_photos(
    connection: Connection,
    artisan: str,
    steps: Collection[StepRef],
    *,
    since: str | None,
    limit: int = 12,
) -> list[dict[str, Any]]:
    """Newest photos of failed checks of the artisan's steps, as the stoves' records stand now.

    Each: sha256, stove, check (CheckRef), captured_at, is_whole (False while it is on its way).
    """
    query = _select_photographed_faults(steps).select_from(join_results())
    query = query.where(is_since(since), RESULT.c.artisan == artisan)
    return _list_photos(connection, query, limit)


def list_step_photos(
    connection: Connection,
    steps: Collection[StepRef],
    filters: Filters,
    fault: tuple[str, str | None] | None = None,
    *,
    limit: int = 12,
) -> list[dict[str, Any]]:
    """As list_fault_photos, of these steps, whoever did them. fault: (check id, fault id) of the
    only one that is wanted.
    """
    query = filter_stoves(filter_results(_select_photographed_faults(steps), filters), filters)
    if fault:
        check_id, name = fault
        query = query.where(
            CHECK_KEY.c.check_id == check_id, RESULT.c.fault.is_not_distinct_from(name)
        )
    return _list_photos(connection, query, limit)


def _list_photos(connection: Connection, query: Select[Any], limit: int) -> list[dict[str, Any]]:
    rows = list(connection.execute(query.limit(limit * 4)))
    answers = _load_answers(connection, {row.stove_key for row in rows})
    found = [
        {
            "sha256": sha256,
            "stove": row.stove_name,
            "check": CheckRef(row.checklist, row.check_id),
            "captured_at": row.captured_at,
        }
        for row in rows
        for sha256 in answers.get(row.event_id, {}).get(row.check_id, {}).get("photos") or []
    ][:limit]
    whole = list_whole(connection, {photo["sha256"] for photo in found})
    return [{**photo, "is_whole": photo["sha256"] in whole} for photo in found]


def _select_photographed_faults(steps: Collection[StepRef]) -> Select[Any]:
    """Failed checks of stoves whose records name a photo, newest first."""
    with_photos = (
        select(LOG.c.seq)
        .where(LOG.c.stove_key == STOVE.c.stove_key, LOG.c.raw.like('%"photos":["%'))
        .exists()
    )
    return (
        select(
            INSPECTION.c.event_id,
            INSPECTION.c.captured_at,
            STOVE.c.stove_key,
            STOVE_NAME,
            CHECK_KEY.c.checklist,
            CHECK_KEY.c.check_id,
        )
        .where(
            RESULT.c.is_fail,
            tuple_(CHECK_KEY.c.checklist, CHECK_KEY.c.step).in_(sorted(steps)),
            with_photos,
        )
        .order_by(INSPECTION.c.captured_at.desc())
    )


def _load_answers(
    connection: Connection, stove_keys: Collection[str]
) -> dict[str, dict[str, dict[str, Any]]]:
    """{event id of an inspection: {check id: answer}} as corrections and decisions left them."""
    events = list_stove_events(connection, stove_keys)
    return {
        inspection["id"]: inspection["body"]["answers"]
        for key in events
        for inspection in fold_stove(events[key])["inspections"]
    }
