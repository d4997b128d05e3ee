"""One artisan and step by artisan: no curve where nothing is known, nobody compared with nobody."""

import numpy as np
import pytest

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.observations import StepInspection
from qcapp.inspection.report_counts import FaultCount, StepTally
from qcapp.reports.apprentice import MIN_FOR_CURVE, build_artisan_report
from qcapp.reports.artisans import build_step_tables
from qcapp.reports.faults import build_step_faults
from qcapp.reports.groups import ApprenticeRule
from qcapp.web.trainer.charts import draw_learning

CUT = StepRef("finished-stove", "cut")
STEPS = {CUT: Step(id="cut", trade="metalwork", title={"en": "Cut"})}
SINCE = "2026-11-01"
RULE = ApprenticeRule(days=180, recorded_since={CUT: SINCE})


def report(failed, started_on="2026-11-10"):
    own = [
        StepInspection(f"medium/B1-{n}", CUT, n, bool(bad), "major" if bad else None)
        for n, bad in enumerate(failed)
    ]
    people = {"A": {"name": "Ano", "started_on": started_on}}
    found = build_artisan_report("A", own, [], [], STEPS, {}, people=people, rule=RULE)
    return found.steps[0]


LEARNER = [True] * 9 + [True, False] * 5 + [False] * 60


def test_a_clear_learner_has_a_curve():
    step = report(LEARNER)
    assert step.curve and step.trend == "falling" and step.why == "" and step.is_from_first
    assert 'class="curve"' in draw_learning(step).svg


@pytest.mark.parametrize("started_on", ["2015-01-01", "2026-10-31", None])
def test_stoves_before_the_first_record_are_unknown_and_not_none(started_on):
    """Long before the records, as an apprentice a day before them, or nobody knows when: the first
    stove recorded is not the first one made.
    """
    step = report(LEARNER, started_on)
    chart = draw_learning(step)
    assert step.curve == () and step.needed is None and not step.is_from_first and step.why
    assert 'class="curve"' not in chart.svg and "earlier ones unknown" in chart.svg
    assert "stoves made with this step" not in chart.svg


@pytest.mark.parametrize(
    "failed",
    [
        [False] * 60,
        [True] * 60,
        [n in (3, 40) for n in range(60)],
        [n % 4 == 0 for n in range(60)],
        [True] * 6 + [False] * (MIN_FOR_CURVE - 7),
    ],
    ids=["no fault", "all", "two", "steady", "too few stoves"],
)
def test_no_curve_where_the_data_say_no_more_than_the_model(failed):
    step = report(failed)
    assert step.curve == () and step.needed is None and step.trend == "not shown" and step.why
    assert "curve" not in draw_learning(step).svg.split("</desc>")[1]


@pytest.mark.parametrize("rate", [0.05, 0.3])
def test_a_flat_rate_gets_a_curve_at_most_once_in_twenty(rate):
    """Of 60 people who do not learn; more than 7 curves in fewer than one in 50 tries."""
    rng = np.random.default_rng(11)
    assert sum(bool(report(rng.random(40) < rate).curve) for _ in range(60)) <= 7


def test_every_run_stands_with_its_count_and_interval():
    chart = draw_learning(report([n % 4 == 0 for n in range(60)]))
    assert (
        chart.columns[-1] == "interval"
        and chart.svg.count('class="whisker"') == len(chart.rows) + 1
    )
    for _made, failed, inspected, rate, interval in chart.rows:
        assert f"{failed} of {inspected}, {rate} ({interval})" in chart.svg


def tables(counts):
    tallies = [StepTally(CUT, code, "B1", SINCE, n, k) for code, (k, n) in counts.items()]
    (found,) = build_step_tables(tallies, STEPS, {}, rule=RULE, min_count=20)
    return found


def test_one_artisan_is_no_evidence_of_no_difference():
    one = tables({"A": (3, 60)})
    assert not one.is_pooled and [row.mark for row in one.rows] == ["alone"]
    two = tables({"A": (3, 60), "B": (3, 60)})
    assert two.is_pooled and [row.mark for row in two.rows] == ["not shown", "not shown"]


def test_raw_rate_has_an_interval():
    (row, _) = tables({"A": (3, 60), "B": (0, 40)}).rows
    assert row.raw_interval.low < row.raw < row.raw_interval.high


def test_faults_of_a_step_say_whose_they_are():
    counts = [
        FaultCount(CUT, "width", "wide", "major", "A", 9),
        FaultCount(CUT, "width", "narrow", "major", "A", 1),
        FaultCount(CUT, "width", "wide", "major", "B", 2),
        FaultCount(CUT, "width", "wide", "major", None, 30),
    ]
    people = {"A": {"name": "Ano"}}
    (step,) = build_step_faults(counts, STEPS, {}, people)
    assert (step.failed, step.artisans) == (42, 2)
    assert (step.carrier.name, step.carrier.failed) == ("Ano", 10)
    (nobodys,) = build_step_faults(counts[-1:], STEPS, {}, people)
    assert nobodys.artisans == 0 and nobodys.carrier is None
