"""Who inspected what: counts by inspector, of steps with their makers and of whole stoves."""

from collections.abc import Collection

from sqlalchemy import Connection, Integer, Subquery, func, select, tuple_

from qcapp.checklist.history import StepRef
from qcapp.inspection.tallies import Filters, InspectorSteps, InspectorStoves
from qcapp.store.queries.filtered_results import filter_results, filter_stoves
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE


def list_inspector_steps(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[InspectorSteps]:
    """By stage, batch, checklist, step, maker and inspector. steps: those of the filtered trade."""
    looks = _list_looks(filters, steps)
    keys = (
        looks.c.stage,
        looks.c.batch,
        looks.c.checklist,
        looks.c.step,
        looks.c.artisan,
        looks.c.inspector,
    )
    query = (
        select(*keys, func.count().label("inspected"), func.sum(looks.c.failed).label("failed"))
        .group_by(*keys)
        .order_by(*keys)
    )
    return [
        InspectorSteps(
            stage,
            batch,
            StepRef(checklist, step),
            artisan or None,
            inspector,
            inspected,
            int(failed),
        )
        for stage, batch, checklist, step, artisan, inspector, inspected, failed in (
            connection.execute(query)
        )
    ]


def list_inspector_stoves(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[InspectorStoves]:
    """By stage, batch and inspector. steps: as `list_inspector_steps`."""
    looks = _list_looks(filters, steps)
    keys = (looks.c.stage, looks.c.batch, looks.c.inspector)
    stove = (
        select(*keys, func.sum(looks.c.failed).label("failed"))
        .group_by(looks.c.no, *keys)
        .subquery()
    )
    keys = (stove.c.stage, stove.c.batch, stove.c.inspector)
    sums = (
        func.count(),
        func.sum((stove.c.failed > 0).cast(Integer)),
        func.sum(stove.c.failed),
        func.sum(stove.c.failed * stove.c.failed),
    )
    query = select(*keys, *sums).group_by(*keys).order_by(*keys)
    return [
        InspectorStoves(stage, batch, inspector, *(int(count) for count in counts))
        for stage, batch, inspector, *counts in connection.execute(query)
    ]


def _list_looks(filters: Filters, steps: Collection[StepRef] | None) -> Subquery:
    """A row for each step of each inspection, failed 0 or 1."""
    keys = (
        INSPECTION.c.no,
        STOVE.c.stage,
        STOVE.c.batch,
        CHECK_KEY.c.checklist,
        CHECK_KEY.c.step,
        func.coalesce(RESULT.c.artisan, "").label("artisan"),
        INSPECTION.c.inspector,
    )
    failed = func.max(RESULT.c.is_fail.cast(Integer)).label("failed")
    query = filter_stoves(filter_results(select(*keys, failed), filters), filters)
    if steps is not None:
        query = query.where(tuple_(CHECK_KEY.c.checklist, CHECK_KEY.c.step).in_(sorted(steps)))
    return query.group_by(*keys).subquery()
