"""What the pieces of some people were like, between two days."""

from collections.abc import Sequence

from sqlalchemy import Connection, Integer, func, select

from qcapp.inspection.filters import Filters
from qcapp.store.queries.filtered_results import filter_results
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT


def count_pieces(
    connection: Connection, step: str | None, artisans: Sequence[str], since: str, until: str
) -> list[tuple[str, int, int, int]]:
    """(checklist, inspected, with a fault, failed checks) of first passes where one of these people
    did the step, or any step.
    """
    failed = func.max(RESULT.c.is_fail.cast(Integer)).label("failed")
    faults = func.sum(RESULT.c.is_fail.cast(Integer)).label("faults")
    query = filter_results(
        select(CHECK_KEY.c.checklist, failed, faults), Filters(since=since, until=until)
    ).where(RESULT.c.artisan.in_(sorted(artisans)))
    if step is not None:
        query = query.where(CHECK_KEY.c.step == step)
    each = query.group_by(INSPECTION.c.no, CHECK_KEY.c.checklist).subquery()
    sums = select(each.c.checklist, func.count(), func.sum(each.c.failed), func.sum(each.c.faults))
    rows = connection.execute(sums.group_by(each.c.checklist).order_by(each.c.checklist))
    return [(checklist, *map(int, counts)) for checklist, *counts in rows]
