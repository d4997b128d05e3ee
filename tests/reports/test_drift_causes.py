"""Which signals are one finding: planted shifts, with how many cards each must give."""

from dataclasses import replace

import pytest

from qcapp.reports.drift import DriftReport, build_drift_report
from qcapp.reports.drift_causes import find_causes
from qcapp.reports.passes import build_passes
from qcapp.reports.row_groups import Template
from qcapp.reports.series import build_series
from tests.reports.test_drift import CHECKLIST, HISTORY, STEP, look

USUAL = (100, 101, 99, 100, 101, 100, 99, 100)
SHARED = Template("T1", STEP, "Template", frozenset({"A01", "A02"}))


def make(values, *, artisans=("A01",), fails=lambda value: value > 103):
    """One stove after another, its artisans in turn; a width that fails beyond 103."""
    return [
        look(n, value, artisan=artisans[n % len(artisans)], failed=fails(value))
        for n, value in enumerate(values)
    ]


def usual(count):
    return [USUAL[n % len(USUAL)] for n in range(count)]


def report_on(*looks_of_rows, templates=(), failed=()) -> DriftReport:
    """looks_of_rows: a list for each check of the step; failed: more faults, of another check."""
    series = [
        row for looks in looks_of_rows for row in build_series(looks, HISTORY, templates, (), {})
    ]
    everything = sorted(
        [one for looks in looks_of_rows for one in looks] + list(failed),
        key=lambda one: one.captured_at,
    )
    passes = build_passes(everything, HISTORY, templates, (), {})
    return build_drift_report(series, passes, min_count=20)


def cards_of(report):
    """{(whose row, readings or faults)} of each cause."""
    return [
        {(row.group.id, hasattr(row, "series")) for row in cause.rows}
        for cause in find_causes(report)
    ]


def test_template_its_users_and_the_faults_it_makes_are_one_finding():
    values = [*usual(80), *(104 + n % 3 for n in range(40))]
    report = report_on(make(values, artisans=("A01", "A02")), templates=[SHARED])
    assert len(report.signals) >= 4
    (card,) = cards_of(report)
    assert {("T1", True), ("A01", True), ("A02", True), ("T1", False)} <= card
    (cause,) = find_causes(report)
    assert (cause.head.group.id, hasattr(cause.head, "series")) == ("T1", True)
    assert cause.fails_more


def test_two_people_without_a_common_template_are_two_findings():
    """Both shift on the same day, each on their own stoves."""
    values = [*usual(80), *(104 + n % 3 for n in range(60))]
    cards = cards_of(report_on(make(values, artisans=("A01", "A02"))))
    assert len(cards) == 2
    assert sorted({who for who, _ in card}.pop() for card in cards) == ["A01", "A02"]


def test_second_shift_long_after_the_first_is_another_finding():
    """Two checks of one step and one person: one moves at 40 of 160, the other at 135."""
    first = make([*usual(40), *(103 for _ in range(120))])
    second = make([*usual(135), *(103 for _ in range(25))])
    assert len(cards_of(report_on(first, second))) == 2
    close = make([*usual(60), *(103 for _ in range(100))])
    assert len(cards_of(report_on(first, close))) == 1, "at 40 and 60 it may be one cause"


@pytest.mark.parametrize(("is_same", "cards"), [(True, 1), (False, 2)])
def test_faults_belong_to_the_check_that_fails(is_same, cards):
    """The width moves; the step's faults rise by it, or by another check while it stays inside."""
    shifted = make([*usual(80), *(104.0 if is_same else 102.0 for _ in range(40))])
    others = [
        look(n, None, failed=n >= 80 and not is_same)._replace(check_id="other") for n in range(120)
    ]
    report = report_on(shifted, failed=others)
    assert {row.passes.step.id for row in report.passes if row.signal} == {STEP}
    assert len(cards_of(report)) == cards


def test_another_step_of_the_same_person_is_another_finding():
    """No template is common to two works, so there are two things to look at."""
    width = make([*usual(40), *(103 for _ in range(40))])
    report = report_on(width)
    moved = report.readings[0]
    edge = moved.series.check.model_copy(update={"step": "turn-edge"})
    other = replace(moved, series=replace(moved.series, check=edge))
    assert len(find_causes(replace(report, readings=(moved, other), passes=()))) == 2
    assert len(find_causes(replace(report, readings=(moved, moved), passes=()))) == 1


def test_every_signal_stands_on_one_card_and_what_improves_comes_after_what_gets_worse():
    worse = make([*usual(80), *(104 + n % 3 for n in range(60))], artisans=("A01",))
    better = [
        one._replace(stove=f"{one.stove}x")
        for one in make([*(105 + n % 3 for n in range(60)), *usual(80)], artisans=("A02",))
    ]
    report = report_on([*worse, *better])
    causes = find_causes(report)
    assert sum(len(one.rows) for one in causes) == len(report.signals)
    assert [one.fails_more for one in causes] == [True, False]
    assert CHECKLIST.id == causes[0].head.step.checklist
