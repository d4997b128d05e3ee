"""Teach next: what is named, what is not, whose the faults are, and in which order."""

import pytest

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import ApprenticeRule, build_rate
from qcapp.reports.teach import NAMED, build_teach_rows, find_step_to_teach, sort_by_burden
from qcapp.reports.teach_evidence import find_stoves_more

NEW, OLD = ("N1", "N2", "N3"), ("E1", "E2", "E3", "E4", "E5", "E6")
PEOPLE = {
    **{code: {"started_on": "2026-10-01", "name": f"New {code}"} for code in NEW},
    **{code: {"started_on": "2015-01-01", "name": f"Old {code}"} for code in OLD},
}
RULE = ApprenticeRule(days=180)


def make(step, artisan, failed, inspected, *, batch="B1", severity="major", day="2026-11-20", **at):
    return StepTally(
        StepRef("finished-stove", step),
        artisan,
        batch,
        day,
        inspected,
        failed,
        **{severity: failed},
        **at,
    )


def spread_out(step, people, failed, inspected, **more):
    """Shared out evenly, one stove more to the first where it does not go up."""
    tallies = []
    for place, code in enumerate(people):
        own = [
            total // len(people) + (place < total % len(people)) for total in (failed, inspected)
        ]
        tallies.append(make(step, code, *own, **more))
    return tallies


def make_step(step, new, old, **more):
    """new, old: (failed, inspected) of three apprentices and of six experienced makers."""
    return [*spread_out(step, NEW, *new, **more), *spread_out(step, OLD, *old, **more)]


def build(tallies, minutes=None, **change):
    cost = minutes or {}
    steps = {
        one.step: Step(
            id=one.step.step,
            trade="metalwork",
            title={"en": one.step.step},
            rework_minutes=cost.get(one.step.step),
        )
        for one in tallies
    }
    return build_teach_rows(tallies, steps, PEOPLE, **{"rule": RULE, "min_count": 20, **change})


def test_hard_batch_does_not_make_apprentices_look_bad():
    """Simpson's paradox: in both batches alike, but the apprentices work on the hard one."""
    tallies = [
        *make_step("cut", (40, 80), (10, 20), batch="HARD"),
        *make_step("cut", (1, 20), (4, 80), batch="EASY"),
    ]
    (row,) = build(tallies)
    assert row.apprentices.rate > 2 * row.experienced.rate
    assert row.excess == pytest.approx(0, abs=1e-9)
    assert row.difference.low < 0 < row.difference.high and row.strength == "chance"


def test_faults_of_one_apprentice_are_not_the_apprentices():
    """As stoves: 24 of 120 against 6 of 240, p below 0.00001. As people: one against the rest."""
    old = spread_out("cut", OLD, 6, 240)
    (row,) = build(
        [make("cut", "N1", 24, 40), make("cut", "N2", 0, 40), make("cut", "N3", 0, 40), *old]
    )
    assert row.strength not in NAMED and row.p > 0.05
    assert [one.artisan for one in row.carriers] == ["N1"]
    (even,) = build([*spread_out("cut", NEW, 24, 120), *old])
    assert even.strength in NAMED and even.carriers == ()


def test_all_faults_of_one_person_are_said_to_be():
    (row,) = build(
        [make("cut", "N1", 3, 50), make("cut", "N2", 0, 50), *spread_out("cut", OLD, 0, 240)]
    )
    (one,) = row.carriers
    assert (one.name, one.group, one.rate.failed, one.rate.inspected) == (
        "New N1",
        "apprentice",
        3,
        50,
    )


def test_fewer_than_the_experienced_does_not_hide_who_of_them_fails():
    new = spread_out("pierce", NEW, 0, 120)
    (row,) = build([*new, make("pierce", "E1", 30, 60), make("pierce", "E2", 1, 60)])
    assert row.strength not in NAMED and row.apprentices.rate < row.experienced.rate
    assert [(one.artisan, one.group) for one in row.carriers] == [("E1", "experienced")]
    assert find_step_to_teach([row]) is row, "the largest problem, where no difference is shown"


def test_largest_problems_are_everybodys_by_weight():
    rows = build(
        [
            *make_step("looks", (20, 120), (40, 240), severity="minor"),
            *make_step("edge", (0, 120), (12, 240), severity="critical"),
            *make_step("once", (1, 120), (0, 240), severity="critical"),
        ]
    )
    assert [row.step for row in sort_by_burden(rows)] == ["edge", "looks", "once"]
    assert find_step_to_teach(rows).step == "edge"


def test_step_to_teach_is_the_one_shown_to_differ_however_large_another_is():
    rows = build(
        [
            *make_step("cut", (30, 120), (2, 240)),
            *make_step("edge", (40, 120), (80, 240), severity="critical"),
        ]
    )
    assert [row.step for row in sort_by_burden(rows)] == ["edge", "cut"]
    assert find_step_to_teach(rows).step == "cut"


def test_one_faulty_stove_is_no_step_to_teach():
    rows = build([*make_step("once", (1, 120), (0, 240), severity="critical")])
    assert find_step_to_teach(rows) is None and find_step_to_teach([]) is None


@pytest.mark.parametrize(("new", "old"), [(1, 5), (1, 1), (2, 1)])
def test_too_few_people_are_not_tested(new, old):
    (row,) = build([*spread_out("cut", NEW[:new], 30, 90), *spread_out("cut", OLD[:old], 3, 180)])
    assert row.strength == "too few people" and row.p is None and row.difference is None
    assert (row.apprentice_people, row.experienced_people) == (new, old)
    assert row.stoves_more is None


def test_person_of_a_few_stoves_does_not_make_a_group():
    (row,) = build(
        [make("cut", "N1", 20, 60), make("cut", "N2", 1, 2), *spread_out("cut", OLD, 3, 180)]
    )
    assert row.strength == "too few people" and row.apprentice_people == 1


def test_critical_excess_comes_before_a_larger_minor_one():
    tallies = [
        *make_step("looks", (36, 120), (12, 240), severity="minor"),
        *make_step("edge", (30, 120), (6, 240), severity="critical"),
    ]
    assert [row.step for row in build(tallies)] == ["edge", "looks"]


def test_rework_cost_weighs_where_it_is_set():
    tallies = [*make_step("a", (36, 120), (12, 240)), *make_step("b", (30, 120), (6, 240))]
    assert {row.strength in NAMED for row in build(tallies)} == {True}
    assert next(row.step for row in build(tallies, minutes={"a": 30, "b": 20})) == "a"
    assert next(row.step for row in build(tallies, minutes={"a": 10, "b": 60})) == "b"
    assert build(tallies, minutes={"a": 20})[0].weight == build(tallies)[0].weight, (
        "one alone has nothing to be dearer than"
    )


def test_few_stoves_are_not_tested_and_no_forecast_rests_on_them():
    (row,) = build(make_step("cut", (5, 18), (2, 180)))
    assert row.strength == "too few" and row.q is None and row.stoves_more is None


def test_untested_steps_cost_the_tested_ones_nothing():
    strong = make_step("cut", (16, 90), (6, 180))
    alone = {row.step: row for row in build(strong)}["cut"].q
    thin = [make(f"thin{n}", "N1", 1, 5) for n in range(10)]
    few = [one for n in range(10) for one in make_step(f"few{n}", (1, 9), (1, 12))]
    assert {row.step: row for row in build([*strong, *thin, *few])}["cut"].q == alone


def test_step_with_few_faults_is_not_tested():
    (row,) = build(make_step("cut", (3, 90), (1, 180)))
    assert row.strength == "too few faults" and row.p is None


def test_more_steps_looked_at_make_the_same_counts_weaker():
    def find(others):
        tallies = make_step("cut", (14, 90), (6, 180))
        for n in range(others):
            tallies += make_step(f"s{n}", (3, 90), (6, 180))
        return {row.step: row for row in build(tallies)}["cut"]

    one, many = find(1), find(15)
    assert many.q / many.p > 5 * one.q / one.p


def test_steps_apprentices_do_better_are_never_taught_first():
    rows = build(make_step("cut", (0, 120), (60, 240)))
    assert rows[0].strength == "better" and rows[0].score == 0


def test_apprentice_by_stoves_made_graduates_on_the_way():
    days = [
        make("cut", "N1", 1, 10, day=f"2026-11-{n + 1:02}", made_before=10 * n) for n in range(10)
    ]
    (row,) = build(days, rule=ApprenticeRule(days=1, stoves=35))
    # With 30 made when the fourth day began, all ten of that day are an apprentice's.
    assert (row.apprentices.inspected, row.experienced.inspected) == (40, 60)
    assert [one.group for one in row.who] == ["both"]


@pytest.mark.parametrize(
    ("started_on", "made_before", "expected"),
    [
        ("2026-11-01", 10, True),  # began with the records: the count is whole
        ("2026-11-01", 35, False),
        ("2015-01-01", 10, False),  # long before the records: unknown, not none
        ("2015-01-01", 35, False),
        ("2026-10-25", 10, True),  # unknown as well, but within the first days
        (None, 10, False),
    ],
)
def test_stoves_before_the_first_record_are_unknown_and_not_none(started_on, made_before, expected):
    rule = ApprenticeRule(
        days=60, stoves=35, recorded_since={StepRef("finished-stove", "cut"): "2026-11-01"}
    )
    tally = make("cut", "N1", 0, 1, made_before=made_before)
    assert rule.is_apprentice(tally, started_on) is expected


def test_apprentice_by_days_counts_by_the_stoves_own_day():
    rule, tally = ApprenticeRule(days=50), make("cut", "N1", 0, 1)
    assert rule.is_apprentice(tally, "2026-10-01") and not rule.is_apprentice(tally, "2026-09-30")
    assert not rule.is_apprentice(tally, None)


def test_not_assigned_stoves_stand_apart():
    (row,) = build([make("cut", None, 3, 10), *spread_out("cut", OLD, 0, 30)])
    assert (row.not_assigned.failed, row.not_assigned.inspected) == (3, 10)
    assert row.apprentices.inspected == 0 and row.everybody.failed == 3
    assert row.carriers == (), "nobody is named for what is nobody's"


def forecast(new=(2, 40), old=(3, 120), people=(3, 6), spread=0.2):
    return find_stoves_more(build_rate(*new[::-1]), build_rate(*old[::-1]), people, spread)


def test_forecast_is_a_range_and_absent_from_fewer_than_twenty():
    found = forecast()
    assert 0 < found.low < found.high
    assert forecast(new=(1, 19)) is None and forecast(old=(1, 19)) is None
    assert forecast(new=(40, 4000), old=(120, 12_000)) is None, "these tell already"


def test_no_number_of_the_same_peoples_stoves_tells_where_people_differ_much():
    assert forecast(people=(2, 2), spread=3.0).low is None
    assert forecast(people=(2, 2), spread=0.0).high is not None
