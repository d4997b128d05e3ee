"""Cumulative sums: a published table, run lengths by theory and by trial, edges."""

import numpy as np
import pytest

from qcapp.errors import BadInput
from qcapp.stats.cusum import (
    bernoulli_cusum,
    bernoulli_run_length,
    design_bernoulli_cusum,
    tabular_cusum,
)
from tests.stats.oracles import load_json

PUBLISHED = load_json("control_charts")["cusum"]


# Source: NIST/SEMATECH 6.3.2.3 (data, h, k secondary; columns memory, two places).
def test_tabular_cusum_gives_the_published_columns_and_signal():
    found = tabular_cusum(PUBLISHED["x"], PUBLISHED["target"], PUBLISHED["k"], PUBLISHED["h"])
    assert found.above == pytest.approx(PUBLISHED["s_hi"], abs=0.0101)
    assert found.below == pytest.approx(PUBLISHED["s_lo"], abs=0.0101)
    assert found.first_signal + 1 == PUBLISHED["first_signal"]
    assert found.signals == tuple(range(13, 20))


def test_turning_readings_upside_down_swaps_the_sums():
    one = tabular_cusum(PUBLISHED["x"], 325, 0.3, 4)
    other = tabular_cusum([-x for x in PUBLISHED["x"]], -325, 0.3, 4)
    assert one.above == pytest.approx(other.below)
    assert one.signals == other.signals


def test_steady_readings_never_signal():
    assert tabular_cusum([5.0] * 100, 5, 0.1, 1).first_signal is None


def test_run_length_of_the_shortest_chart_is_the_mean_wait_for_a_failure():
    assert bernoulli_run_length(1, 1, 0.05) == pytest.approx(20)


def test_run_length_for_two_failures_in_a_row_is_the_known_one():
    # Rise 2, limit 3: signals when a failure follows a sum of at least 1. From 0: f -> 2, then f
    # signals, p -> 1 and one more f signals, p -> 0. E0 = 1/p + E2, E2 = 1 + q E1, E1 = 1 + q E0.
    p, q = 0.2, 0.8
    assert bernoulli_run_length(2, 3, p) == pytest.approx((1 / p + 1 + q) / (1 - q * q))


@pytest.mark.parametrize("rate", [0.05, 0.15])
def test_run_length_is_what_a_long_trial_shows(rate):
    plan = design_bernoulli_cusum(0.05, 0.15, 200)
    failed = (np.random.default_rng(9).random(400_000) < rate).tolist()
    signals = len(bernoulli_cusum(failed, plan).signals)
    error = 4 / signals**0.5
    assert len(failed) / signals == pytest.approx(
        bernoulli_run_length(plan.rise, plan.limit, rate), rel=error
    )


@pytest.mark.parametrize(
    ("usual", "worse", "run"),
    [(0.05, 0.15, 500), (0.01, 0.03, 1000), (0.2, 0.4, 100), (0.1, 0.12, 300)],
)
def test_design_keeps_the_run_and_no_smaller_limit_does(usual, worse, run):
    plan = design_bernoulli_cusum(usual, worse, run)
    assert plan.usual_run == bernoulli_run_length(plan.rise, plan.limit, usual) >= run
    assert plan.limit == 1 or bernoulli_run_length(plan.rise, plan.limit - 1, usual) < run
    assert plan.worse_run < plan.usual_run


def test_tuned_rate_is_where_one_failure_weighs_rise_passes():
    plan = design_bernoulli_cusum(0.05, 0.15, 500)
    by_failure = np.log(plan.tuned_rate * 0.95 / (0.05 * (1 - plan.tuned_rate)))
    by_pass = np.log(0.95 / (1 - plan.tuned_rate))
    # Reynolds and Stoumbos 1999: r2 / r1, of which one pass is taken off with the failure itself.
    assert by_failure / by_pass == pytest.approx(plan.rise + 1)
    assert plan.tuned_rate == pytest.approx(0.15, abs=0.01)


@pytest.mark.parametrize("usual", [0.5, 0.54, 0.7, 0.89])
def test_rate_at_which_the_sum_rises_by_itself_is_refused(usual):
    with pytest.raises(BadInput, match="rise by itself"):
        design_bernoulli_cusum(usual, min(0.95, 2.5 * usual), 500)


def test_every_rate_of_a_row_gives_a_plan_or_is_refused():
    """As the page Drift asks: 2.5 times the usual rate, at most 0.95; nothing else comes out."""
    planned = 0
    for percent in range(1, 90):
        usual = percent / 100
        try:
            plan = design_bernoulli_cusum(usual, min(0.95, 2.5 * usual), 500)
        except BadInput:
            continue
        planned += 1
        assert plan.usual_run >= 500 and usual < plan.tuned_rate < 1
    assert planned >= 40


def test_sum_never_falls_below_zero_and_starts_anew_after_a_signal():
    plan = design_bernoulli_cusum(0.2, 0.5, 20)
    found = bernoulli_cusum([0, 0, 1, 1, 1, 1, 0], plan)
    assert min(found.sums) == 0
    first = found.signals[0]
    assert found.sums[first] >= plan.limit
    assert found.sums[first + 1] in (0, plan.rise)


@pytest.mark.parametrize(
    ("usual", "worse", "run"), [(0.1, 0.1, 100), (0.2, 0.1, 100), (0, 0.1, 100), (0.1, 0.2, 0)]
)
def test_rates_out_of_order_are_refused(usual, worse, run):
    with pytest.raises(BadInput):
        design_bernoulli_cusum(usual, worse, run)


@pytest.mark.parametrize(("slack", "decision"), [(-1, 4), (0.5, 0)])
def test_sums_without_a_limit_are_refused(slack, decision):
    with pytest.raises(BadInput):
        tabular_cusum([1.0], 0, slack, decision)
