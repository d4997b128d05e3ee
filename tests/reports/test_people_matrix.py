"""Steps by people: who stands where, what a cell's shade says, and that nobody is ranked."""

import pytest

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.artisans import build_step_tables
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.people_matrix import SHADES, build_people_matrix, find_shade
from qcapp.stats.shrinkage import shrink_rates

DAY = "2026-11-01"
CUT, EDGE, CLAY = (StepRef("stove", name) for name in ("cut", "edge", "form"))
PEOPLE = {
    code: {"name": f"Name {code}", "started_on": started, "trades": ["metalwork"]}
    for code, started in (("A1", "2010-01-01"), ("A2", "2026-10-01"), ("A3", "2010-01-01"))
}


def make(counts, min_count=20):
    """counts: {step: {code or None: (failed, inspected)}}."""
    steps = {
        ref: Step(id=ref.step, trade="clay" if ref == CLAY else "metalwork", title={"en": ref.step})
        for ref in (CUT, EDGE, CLAY)
    }
    tallies = [
        StepTally(ref, code, "B1", DAY, of, failed, 0, failed, 0)
        for ref, own in counts.items()
        for code, (failed, of) in own.items()
    ]
    rule = ApprenticeRule(183)
    return build_people_matrix(
        build_step_tables(tallies, steps, PEOPLE, rule=rule, min_count=min_count)
    )


def test_people_stand_by_code_whatever_their_rates_and_in_blocks_of_their_trade():
    for counts in ({"A1": (0, 40), "A3": (30, 40)}, {"A1": (30, 40), "A3": (0, 40)}):
        metal, clay = make({CLAY: {"A2": (1, 30)}, CUT: counts, EDGE: {"A2": (2, 40)}})
        assert [person.artisan for person in metal.people] == ["A1", "A2", "A3"]
        assert [person.artisan for person in clay.people] == ["A2"]
    assert [row.table.step for row in metal.rows] == ["cut", "edge"]
    assert [cell and cell.inspected for cell in metal.rows[0].cells] == [40, None, 40]
    assert [person.is_apprentice for person in metal.people] == [False, True, False]


def test_a_row_adds_up_to_everybody():
    (block,) = make({CUT: {"A1": (3, 40), "A2": (5, 50), None: (2, 9)}})
    (row,) = block.rows
    assert (row.everybody.failed, row.everybody.inspected) == (10, 99)
    assert make({CUT: {None: (2, 9)}}) == [], "a step that names nobody has no cell"


def test_the_shade_is_of_the_shrunk_rate_and_not_of_the_raw_one():
    """Both failed 3 of 25 and 30 of 250, 12 %; beside people at 1 % the few are drawn down."""
    counts = {"A1": (3, 25), "A2": (30, 250), "A3": (3, 300)}
    (block,) = make({CUT: counts})
    few, many, good = block.rows[0].cells
    shrunk = [one.rate for one in shrink_rates(list(counts.values())).people]
    assert [cell.rate for cell in (few, many, good)] == pytest.approx(shrunk)
    assert few.rate < many.rate and few.raw == many.raw
    for cell in (few, many, good):
        shade = find_shade(cell, 20)
        assert (0.0, *SHADES)[shade] <= cell.rate < (*SHADES, 1.01)[shade]


def test_too_few_have_no_shade_even_where_one_person_does_the_step_alone():
    (block,) = make({CUT: {"A1": (1, 4)}, EDGE: {"A1": (1, 19), "A3": (0, 20)}})
    cells = [cell for row in block.rows for cell in row.cells if cell]
    assert [find_shade(cell, 20) is None for cell in cells] == [True, True, False]
