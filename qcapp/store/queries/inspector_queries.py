"""Who inspected what: counts by inspector, of steps with their makers and of whole stoves."""

from collections.abc import Collection

from sqlalchemy import ColumnElement, Connection, Integer, Subquery, case, func, select, tuple_

from qcapp.checklist.history import StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.inspector_counts import InspectorLooks, InspectorSteps, InspectorStoves
from qcapp.store.queries.filtered_results import (
    IS_COUNTED,
    filter_stoves,
    is_since,
    match_inspections,
)
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE


def list_inspector_steps(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[InspectorSteps]:
    """By stage, batch, checklist, step, maker and inspector. steps: those of the filtered trade."""
    sums = _sum_steps(filters, steps)
    names = (
        *(STOVE.c.stage, STOVE.c.batch, CHECK_KEY.c.checklist, CHECK_KEY.c.step),
        *(sums.c.artisan, INSPECTION.c.inspector),
    )
    query = (
        select(*names, sums.c.inspected, sums.c.failed)
        .select_from(
            sums.join(INSPECTION, INSPECTION.c.no == sums.c.head)
            .join(STOVE, STOVE.c.no == INSPECTION.c.stove_no)
            .join(CHECK_KEY, CHECK_KEY.c.no == sums.c.step_no)
        )
        .order_by(*names[:4], sums.c.artisan.nulls_first(), INSPECTION.c.inspector)
    )
    return [
        InspectorSteps(
            stage, batch, StepRef(checklist, step), artisan or None, inspector, inspected, failed
        )
        for stage, batch, checklist, step, artisan, inspector, inspected, failed in (
            connection.execute(query).all()
        )
    ]


def _sum_steps(filters: Filters, steps: Collection[StepRef] | None) -> Subquery:
    """Sorted as numbers: names of stages, batches and steps are added to the few sums."""
    visit, step = _list_visits(filters), _number_steps(steps)
    keys = (visit.c.head, step.c.step_no, RESULT.c.artisan)
    return (
        select(
            *keys,
            func.count(visit.c.no.distinct()).label("inspected"),
            func.count(case((RESULT.c.is_fail, visit.c.no)).distinct()).label("failed"),
        )
        .select_from(
            visit.join(RESULT, RESULT.c.inspection_no == visit.c.no).join(
                step, step.c.no == RESULT.c.check_no
            )
        )
        .where(IS_COUNTED)
        .group_by(*keys)
        .subquery()
    )


def list_inspector_looks(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[InspectorLooks]:
    """By step, maker and inspector, of the steps whose maker is known. steps: the only ones."""
    step = _number_steps(steps)
    keys = (step.c.step_no, RESULT.c.artisan, INSPECTION.c.inspector)
    query = (
        select(*keys, func.count(INSPECTION.c.no.distinct()))
        .select_from(
            INSPECTION.join(RESULT, RESULT.c.inspection_no == INSPECTION.c.no)
            .join(STOVE, STOVE.c.no == INSPECTION.c.stove_no)
            .join(step, step.c.no == RESULT.c.check_no)
        )
        .where(IS_COUNTED, is_since(filters.since), *match_inspections(filters))
        .where(RESULT.c.artisan != "")
    )
    rows = connection.execute(filter_stoves(query, filters).group_by(*keys)).all()
    names = _name_steps(connection)
    return [
        InspectorLooks(names[step_no], artisan, inspector, inspected)
        for step_no, artisan, inspector, inspected in rows
    ]


def list_inspector_stoves(
    connection: Connection, filters: Filters, steps: Collection[StepRef] | None = None
) -> list[InspectorStoves]:
    """By stage, batch and inspector. steps: as `list_inspector_steps`."""
    sums = _sum_stoves(filters, steps)
    keys = (STOVE.c.stage, STOVE.c.batch, INSPECTION.c.inspector)
    query = (
        select(*keys, sums.c.inspected, sums.c.failed, sums.c.failed_steps, sums.c.squares)
        .select_from(
            sums.join(INSPECTION, INSPECTION.c.no == sums.c.head).join(
                STOVE, STOVE.c.no == INSPECTION.c.stove_no
            )
        )
        .order_by(*keys)
    )
    return [
        InspectorStoves(stage, batch, inspector, *(int(count) for count in counts))
        for stage, batch, inspector, *counts in connection.execute(query).all()
    ]


def _sum_stoves(filters: Filters, steps: Collection[StepRef] | None) -> Subquery:
    """By the first inspection with the same stage, batch and inspector."""
    visit, by_stove = _list_visits(filters), _count_failed_steps(filters, steps)
    failed = func.coalesce(by_stove.c.failed, 0)
    return (
        select(
            visit.c.head,
            func.count().label("inspected"),
            func.sum((failed > 0).cast(Integer)).label("failed"),
            func.sum(failed).label("failed_steps"),
            func.sum(failed * failed).label("squares"),
        )
        .select_from(visit.outerjoin(by_stove, by_stove.c.inspection_no == visit.c.no))
        .where(_was_counted(visit.c.no, steps))
        .group_by(visit.c.head)
        .subquery()
    )


def _count_failed_steps(filters: Filters, steps: Collection[StepRef] | None) -> Subquery:
    """Few stoves have a fault: only their results are counted by step."""
    step = _number_steps(steps)
    faulty = (
        select(RESULT.c.inspection_no, step.c.step_no, RESULT.c.artisan)
        .join(step, step.c.no == RESULT.c.check_no)
        .where(RESULT.c.is_fail, IS_COUNTED, is_since(filters.since))
        .distinct()
        .subquery()
    )
    return (
        select(faulty.c.inspection_no, func.count().label("failed"))
        .group_by(faulty.c.inspection_no)
        .subquery()
    )


def _was_counted(
    inspection_no: ColumnElement[int], steps: Collection[StepRef] | None
) -> ColumnElement[bool]:
    """Whether any check of the inspection counts, of the steps where some are asked for."""
    query = select(RESULT.c.check_no).where(RESULT.c.inspection_no == inspection_no, IS_COUNTED)
    if steps is not None:
        query = query.join(CHECK_KEY, CHECK_KEY.c.no == RESULT.c.check_no).where(
            tuple_(CHECK_KEY.c.checklist, CHECK_KEY.c.step).in_(sorted(steps))
        )
    return query.exists()


def _list_visits(filters: Filters) -> Subquery:
    """no: of each inspection under the filters; head: of the first with the same stage, batch and
    inspector.
    """
    alike = (STOVE.c.stage, STOVE.c.batch, INSPECTION.c.inspector)
    head = func.min(INSPECTION.c.no).over(partition_by=alike).label("head")
    query = (
        select(INSPECTION.c.no, head)
        .join(STOVE, STOVE.c.no == INSPECTION.c.stove_no)
        .where(*match_inspections(filters))
    )
    return filter_stoves(query, filters).subquery()


def _number_steps(steps: Collection[StepRef] | None) -> Subquery:
    """no: of each check's key, of the given steps alone; step_no: the lowest of its step."""
    alike = (CHECK_KEY.c.checklist, CHECK_KEY.c.step)
    query = select(
        CHECK_KEY.c.no, func.min(CHECK_KEY.c.no).over(partition_by=alike).label("step_no")
    )
    if steps is not None:
        query = query.where(tuple_(*alike).in_(sorted(steps)))
    return query.subquery()


def _name_steps(connection: Connection) -> dict[int, StepRef]:
    """By the number of any check's key."""
    rows = connection.execute(select(CHECK_KEY.c.no, CHECK_KEY.c.checklist, CHECK_KEY.c.step)).all()
    return {no: StepRef(checklist, step) for no, checklist, step in rows}
