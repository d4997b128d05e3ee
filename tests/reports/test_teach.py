"""Teach next: what is named, what is not, and in which order."""

import pytest

from qcapp.checklist.history import StepRef
from qcapp.checklist.model import Step
from qcapp.inspection.tallies import StepTally
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.teach import build_teach_rows

PEOPLE = {"N": {"started_on": "2026-10-01"}, "E": {"started_on": "2015-01-01"}}
RULE = ApprenticeRule(days=180)


def make_visits(
    step, artisan, failed, inspected, *, batch="B1", severity="major", day="2026-11-20", made=0
):
    return [
        StepTally(
            StepRef("finished-stove", step),
            artisan,
            batch,
            day,
            inspected,
            failed,
            made_before=made,
            **{severity: failed},
        )
    ]


def build(inspections, minutes=None, **change):
    cost = minutes or {}
    steps = {
        v.step: Step(
            id=v.step.step,
            trade="metalwork",
            title={"en": v.step.step},
            rework_minutes=cost.get(v.step.step),
        )
        for v in inspections
    }
    return build_teach_rows(inspections, steps, PEOPLE, **{"rule": RULE, "min_count": 20, **change})


def test_hard_batch_does_not_make_apprentices_look_bad():
    """Simpson's paradox: in both batches alike, but the apprentices work on the hard one."""
    inspections = [
        *make_visits("cut", "N", 40, 80, batch="HARD"),
        *make_visits("cut", "E", 10, 20, batch="HARD"),
        *make_visits("cut", "N", 1, 20, batch="EASY"),
        *make_visits("cut", "E", 4, 80, batch="EASY"),
    ]
    (row,) = build(inspections)
    assert row.apprentices.rate > 2 * row.experienced.rate
    assert row.difference.value == pytest.approx(0, abs=1e-9) and row.strength == "chance"


def test_critical_excess_comes_before_a_larger_minor_one():
    inspections = [
        *make_visits("looks", "N", 30, 100, severity="minor"),
        *make_visits("looks", "E", 5, 100),
        *make_visits("edge", "N", 20, 100, severity="critical"),
        *make_visits("edge", "E", 2, 100),
    ]
    assert [row.step for row in build(inspections)] == ["edge", "looks"]


def test_rework_cost_weighs_where_it_is_set():
    inspections = [
        *make_visits("a", "N", 30, 100),
        *make_visits("a", "E", 5, 100),
        *make_visits("b", "N", 25, 100),
        *make_visits("b", "E", 2, 100),
    ]
    assert next(row.step for row in build(inspections)) == "a"
    assert next(row.step for row in build(inspections, minutes={"a": 10, "b": 60})) == "b"
    assert build(inspections, minutes={"a": 20})[0].weight == build(inspections)[0].weight, (
        "one alone has nothing to be dearer than"
    )


def test_few_stoves_are_not_tested_and_say_how_many_more_would_tell():
    (row,) = build([*make_visits("cut", "N", 5, 10), *make_visits("cut", "E", 2, 100)])
    assert row.strength == "too few" and row.q is None
    assert row.stoves_more >= 10


def test_untested_steps_cost_the_tested_ones_nothing():
    strong = [*make_visits("cut", "N", 12, 60), *make_visits("cut", "E", 3, 60)]
    alone = build(strong)[0].q
    thin = [inspection for n in range(10) for inspection in make_visits(f"thin{n}", "N", 1, 5)]
    assert {row.step: row for row in build([*strong, *thin])}["cut"].q == alone


def test_more_steps_looked_at_make_the_same_counts_weaker():
    def strength(others):
        inspections = [*make_visits("cut", "N", 8, 60), *make_visits("cut", "E", 1, 60)]
        for n in range(others):
            inspections += [*make_visits(f"s{n}", "N", 3, 60), *make_visits(f"s{n}", "E", 3, 60)]
        return {row.step: row for row in build(inspections)}["cut"]

    assert strength(0).strength == "good"
    assert strength(15).q > strength(0).q and strength(15).strength not in (
        "good",
        "strong",
        "very strong",
    )


def test_steps_apprentices_do_better_are_never_taught_first():
    rows = build([*make_visits("cut", "N", 0, 100), *make_visits("cut", "E", 20, 100)])
    assert rows[0].strength == "better" and rows[0].score == 0


def test_apprentice_by_stoves_made_graduates_on_the_way():
    days = [
        tally
        for n in range(10)
        for tally in make_visits("cut", "N", 1, 10, day=f"2026-11-{n + 1:02}", made=10 * n)
    ]
    (row,) = build(days, rule=ApprenticeRule(days=1, stoves=35))
    # With 30 made when the fourth day began, all ten of that day are an apprentice's.
    assert (row.apprentices.inspected, row.experienced.inspected) == (40, 60)


def test_apprentice_by_days_counts_by_the_stoves_own_day():
    rule = ApprenticeRule(days=50)
    (inspection,) = make_visits("cut", "N", 0, 1)
    assert rule.is_apprentice(inspection, "2026-10-01") and not rule.is_apprentice(
        inspection, "2026-09-30"
    )
    assert not rule.is_apprentice(inspection, None)


def test_not_assigned_stoves_stand_apart():
    (row,) = build([*make_visits("cut", None, 3, 10), *make_visits("cut", "E", 0, 30)])
    assert (row.not_assigned.failed, row.not_assigned.inspected) == (3, 10)
    assert row.apprentices.inspected == 0
