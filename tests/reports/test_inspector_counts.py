"""Counts by inspector beside a plain recount of the rows, under every kind of filter."""

import pytest
from sqlalchemy import text

from qcapp.checklist.history import StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.inspector_counts import InspectorLooks, InspectorSteps, InspectorStoves
from qcapp.store.queries.inspector_queries import (
    list_inspector_looks,
    list_inspector_steps,
    list_inspector_stoves,
)

pytestmark = pytest.mark.slow

ROWS = """
SELECT inspection.no, inspection.captured_at, inspection.is_first_pass, inspection.inspector,
       stove.stage, stove.batch, stove.size, check_key.checklist, check_key.step, result.artisan,
       result.is_fail
FROM result
JOIN inspection ON inspection.no = result.inspection_no
JOIN stove ON stove.no = inspection.stove_no
JOIN check_key ON check_key.no = result.check_no
WHERE result.verdict IN ('pass', 'fail', 'doubtful')
"""
TRADE = {StepRef("finished-stove", "cut-door-opening"), StepRef("finished-stove", "fit-legs")}
ASKED = {
    "nothing": (Filters(), None),
    "days": (Filters(since="2000-01-01", until="2999-12-31"), None),
    "half of the days": (None, None),
    "batch with rework": (Filters(batch="B5", has_rework=True), None),
    "stage": (Filters(stage="fired-liner"), None),
    "size": (Filters(size="medium"), None),
    "trade": (Filters(), TRADE),
    "no step at all": (Filters(), set()),
}


def is_asked(row, filters, steps):
    day = row.captured_at[:10]
    return (
        (filters.has_rework or row.is_first_pass)
        and (filters.since or "") <= day <= (filters.until or "~")
        and filters.batch in (None, row.batch)
        and filters.stage in (None, row.stage)
        and filters.size in (None, row.size)
        and (steps is None or StepRef(row.checklist, row.step) in steps)
    )


def recount(rows):
    """Steps, looks, stoves, added up row by row."""
    by_step, by_stove = {}, {}
    for row in rows:
        where = (row.stage, row.batch, row.inspector)
        step = (StepRef(row.checklist, row.step), row.artisan)
        own = by_step.setdefault((where, step), {})
        own[row.no] = own.get(row.no, False) or row.is_fail
        failed = by_stove.setdefault(where, {}).setdefault(row.no, set())
        failed.update([step] if row.is_fail else [])
    steps = {
        InspectorSteps(where[0], where[1], *step, where[2], len(own), sum(own.values()))
        for (where, step), own in by_step.items()
    }
    looks = {}
    for one in steps:
        if one.artisan:
            key = (one.step, one.artisan, one.inspector)
            looks[key] = looks.get(key, 0) + one.inspected
    stoves = {
        InspectorStoves(
            *where,
            len(own),
            sum(bool(failed) for failed in own.values()),
            sum(len(failed) for failed in own.values()),
            sum(len(failed) ** 2 for failed in own.values()),
        )
        for where, own in by_stove.items()
    }
    return steps, {InspectorLooks(*key, count) for key, count in looks.items()}, stoves


@pytest.mark.parametrize("asked", ASKED)
def test_counts_are_those_of_a_recount(demo_yard, asked):
    filters, steps = ASKED[asked]
    with demo_yard[0].app.state.store.reading() as connection:
        rows = connection.execute(text(ROWS)).all()
        if filters is None:
            days = sorted(row.captured_at[:10] for row in rows)
            filters = Filters(since=days[len(days) // 4], until=days[3 * len(days) // 4])
        expected = recount(row for row in rows if is_asked(row, filters, steps))
        given = (
            list_inspector_steps(connection, filters, steps),
            list_inspector_looks(connection, filters, steps),
            list_inspector_stoves(connection, filters, steps),
        )
    for want, found in zip(expected, given, strict=True):
        assert len(found) == len(set(found)) and set(found) == want
        assert want or asked == "no step at all"
    ordered = [
        (one.stage, one.batch, *one.step, one.artisan or "", one.inspector) for one in given[0]
    ]
    assert ordered == sorted(ordered)
