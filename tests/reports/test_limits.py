"""Rows of the page about limits: what is worked out, what is not and why,
and that the parts add up.
"""

import numpy as np
import pytest

from qcapp.checklist.history import ChecklistHistory
from qcapp.checklist.model import Checklist
from qcapp.reports.limits import build_limit_rows
from qcapp.reports.row_groups import Template
from tests.builders import build_small_checklist
from tests.reports.test_drift import STEP, WIDTH, look

CHECKLIST = build_small_checklist()


def rows_of(values, artisans=("A01", "A02", "A03"), checklist=CHECKLIST, templates=()):
    looks = [
        look(n, float(value), artisan=artisans[n % len(artisans)]) for n, value in enumerate(values)
    ]
    history = ChecklistHistory({CHECKLIST.hash: checklist}, {})
    return build_limit_rows(looks, history, templates, min_count=20)


def with_check(**change):
    compiled = build_small_checklist().compiled()
    (check,) = [check for check in compiled["checks"] if check["id"] == WIDTH]
    check.update(change)
    return Checklist.from_compiled(compiled)


def normal(n=400, sd=1.5, mean=100.0, seed=3):
    return np.round(np.random.default_rng(seed).normal(mean, sd, n))


def test_guarded_rule_passes_fewer_bad_and_fails_more_good():
    (row,) = rows_of(normal())
    simple, guarded = row.risks
    assert (simple.rule, guarded.rule) == ("simple", "guarded") and row.risk_in_force is simple
    assert guarded.wrongly_passed.value < simple.wrongly_passed.value < row.outside.value
    assert guarded.wrongly_failed.value > simple.wrongly_failed.value
    for risk in row.risks:
        assert risk.wrongly_passed.low <= risk.wrongly_passed.value <= risk.wrongly_passed.high
    assert (guarded.accepted.lower, guarded.accepted.upper) == (98, 102)


def test_guard_factor_of_the_checklist_is_used():
    (row,) = rows_of(normal(), checklist=with_check(guard_factor=0.5))
    assert (row.risks[1].accepted.lower, row.risks[1].accepted.upper) == (97.5, 102.5)


def test_risk_is_the_one_of_a_trial():
    rng = np.random.default_rng(8)
    true = rng.normal(101, 1.4, 200_000)
    read = true + rng.normal(0, 0.5, 200_000)
    (row,) = rows_of(read[:1500])
    wrong = ((abs(true - 100) > 3) & (abs(read - 100) <= 3)).mean()
    assert row.risks[0].wrongly_passed.low <= wrong <= row.risks[0].wrongly_passed.high


@pytest.mark.parametrize(
    ("values", "checklist", "says"),
    [
        (normal(19), CHECKLIST, "19 readings are too few; 20 are needed"),
        ([100.0] * 30, CHECKLIST, "all readings are equal"),
        (normal(), with_check(uncertainty=0), "uncertainty of the tool is not given"),
        (normal(sd=0.1), with_check(uncertainty=2), "readings are equal"),
        (normal(sd=0.6), with_check(uncertainty=2), "explains the spread"),
    ],
)
def test_what_cannot_be_told_is_said_and_not_worked_out(values, checklist, says):
    (row,) = rows_of(values, checklist=checklist)
    assert says in (row.why_not or row.why_no_risk) and row.risks == () and row.outside is None


def test_threatened_limit_and_normality():
    (row,) = rows_of(normal(mean=101.5))
    assert row.capability.threatened == "upper" and row.is_normal
    (row,) = rows_of(np.concatenate([normal(mean=97), normal(mean=103)]))
    assert not row.is_normal


def test_spread_divides_between_artisans_templates_and_measuring():
    values = normal(n=900, sd=1.0)
    values[0::3] += 3
    (row,) = rows_of(
        values, templates=[Template("T1", STEP, "Template", frozenset({"A02", "A03"}))]
    )
    division = row.division
    assert division.artisans.between.value > 0.5 and division.templates.groups == 2
    assert division.measuring == pytest.approx(0.25 / row.capability.s**2)
    assert division.measuring + division.artisans.between.value + division.rest == pytest.approx(1)
    assert [(code, n) for code, n, _mean in division.by_artisan] == [
        ("A01", 300),
        ("A02", 300),
        ("A03", 300),
    ]
    (alone,) = rows_of(normal(), artisans=("A01",))
    assert alone.division.artisans is None


def test_making_that_drifts_has_a_performance_and_no_capability():
    drifting = normal(n=120) + np.round(np.linspace(-4, 4, 120))
    (steady,), (moved,) = rows_of(normal(n=60, sd=1.2, seed=5)), rows_of(drifting)
    assert steady.within.is_stable and steady.within.cpk and steady.order_chart.flags == {}
    assert moved.within.is_drifting and moved.within.cp is None and moved.within.cpk is None
    assert moved.capability.pp.value < 6 / (6 * moved.within.s)
    assert set(moved.order_chart.flags) == set(moved.within.signals)


def test_readings_are_charted_in_the_order_made():
    values = normal(n=60)
    looks = [look(n, float(value)) for n, value in enumerate(values)]
    (row,) = build_limit_rows(
        looks[::-1], ChecklistHistory({CHECKLIST.hash: CHECKLIST}, {}), (), min_count=20
    )
    assert row.order_chart.values == tuple(values)
