"""Firth's curve: published fits, exact cases, statsmodels, profile limits, what cannot be told."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import expit, logit
from scipy.stats import chi2

from qcapp.errors import BadInput
from qcapp.stats.learning import find_stoves_needed, fit_learning_curve, rate_after
from qcapp.stats.logistic import (
    LogisticData,
    covariance,
    fit_firth,
    gather,
    penalised_log_likelihood,
)
from tests.stats.oracles import load_json

FLIGHTS = load_json("learning")["logistic_orings"]


def flights(name, trials, times):
    heat, damaged = (
        np.array(values, dtype=float) for values in (FLIGHTS["temperature_F"], FLIGHTS[name]["y"])
    )
    return LogisticData(heat, times * damaged, np.full(len(heat), float(times * trials)))


def learner(seed, stoves=120, start=0.5, slope=-0.8):
    made = list(range(stoves))
    failed = np.random.default_rng(seed).random(stoves) < expit(start + slope * np.log1p(made))
    return made, failed.tolist()


# Source: usual binary fit (secondary, standard errors memory); Faraway (secondary). They are plain
# likelihood: with every flight counted 10,000 times Firth's penalty no longer shows.
@pytest.mark.parametrize(("name", "trials"), [("any_distress", 1), ("damaged_of_6", 6)])
def test_firth_comes_to_the_published_fit_as_data_grow(name, trials):
    row, data = FLIGHTS[name], flights(name, trials, 10_000)
    fit = fit_firth(data)
    assert fit == pytest.approx((row["intercept"], row["slope"]), rel=5e-4)
    errors = np.sqrt(np.diag(covariance(data, *fit)) * 10_000)
    assert errors == pytest.approx(row["se"], rel=1e-3)


def test_firth_draws_the_published_fit_towards_nothing():
    row = FLIGHTS["any_distress"]
    assert abs(fit_firth(flights("any_distress", 1, 1))[1]) < abs(row["slope"])


@given(st.integers(0, 9), st.integers(1, 9), st.integers(0, 9), st.integers(1, 9))
def test_two_places_give_each_half_a_failure_and_half_a_pass_more(a, a_passed, b, b_passed):
    # Firth 1993: for a saturated model the penalty is Jeffreys' prior, one half added to each cell.
    data = gather(
        [0] * (a + a_passed) + [1] * (b + b_passed),
        [1] * a + [0] * a_passed + [1] * b + [0] * b_passed,
    )
    intercept, slope = fit_firth(data)
    assert expit(intercept) == pytest.approx((a + 0.5) / (a + a_passed + 1))
    assert expit(intercept + slope) == pytest.approx((b + 0.5) / (b + b_passed + 1))


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_firth_is_the_plain_fit_of_stoves_with_half_their_leverage_added(seed):
    # Heinze and Schemper 2002: each row once more, split over failed and passed with weight h / 2.
    made, failed = learner(seed, stoves=40)
    data = gather(np.log1p(made), failed)
    intercept, slope = fit_firth(data)
    design = sm.add_constant(data.x)
    chance = expit(intercept + slope * data.x)
    weight = data.inspected * chance * (1 - chance)
    leverage = weight * np.einsum("ij,jk,ik->i", design, covariance(data, intercept, slope), design)
    more_failed = data.failed + leverage / 2
    response = np.column_stack([more_failed, data.inspected + leverage - more_failed])
    theirs = sm.GLM(response, design, family=sm.families.Binomial()).fit(tol=1e-12)
    assert (intercept, slope) == pytest.approx(tuple(theirs.params), abs=1e-5)


def test_curve_is_finite_where_early_stoves_all_failed_and_later_ones_all_passed():
    curve = fit_learning_curve([0, 1, 2, 3, 10, 11, 12, 13], [1, 1, 1, 1, 0, 0, 0, 0])
    assert -20 < curve.slope.value < 0
    assert curve.slope.high < 0
    assert curve.is_clear


def test_slope_limits_are_where_the_profile_has_fallen_by_the_quantile():
    made, failed = learner(3)
    curve = fit_learning_curve(made, failed)
    best = penalised_log_likelihood(curve.data, curve.intercept.value, curve.slope.value)
    for limit in (curve.slope.low, curve.slope.high):
        intercepts = np.linspace(-10, 15, 40_001)
        profile = max(penalised_log_likelihood(curve.data, at, limit) for at in intercepts[::20])
        assert 2 * (best - profile) == pytest.approx(chi2.ppf(0.95, 1), abs=0.02)


def test_swapping_failed_and_passed_mirrors_the_slope():
    made, failed = learner(4)
    one, other = fit_learning_curve(made, failed), fit_learning_curve(made, [not f for f in failed])
    assert one.slope.value == pytest.approx(-other.slope.value, abs=1e-7)
    assert one.slope.low == pytest.approx(-other.slope.high, abs=1e-5)


@pytest.mark.parametrize("slope", [0.0, -0.7])
def test_slope_interval_covers_as_promised(slope):
    hits = []
    for seed in range(80):
        found = fit_learning_curve(*learner(seed, stoves=40, start=-0.5, slope=slope)).slope
        hits.append(found.low <= slope <= found.high)
    assert np.mean(hits) >= 0.9


def test_rate_after_follows_the_curve_and_its_band_holds_it():
    curve = fit_learning_curve(*learner(3))
    found = rate_after(curve, 50)
    assert logit(found.value) == pytest.approx(
        curve.intercept.value + curve.slope.value * math.log(51)
    )
    assert found.low < found.value < found.high
    assert rate_after(curve, 0).value > found.value


def test_stoves_needed_are_where_the_curve_reaches_the_target():
    curve = fit_learning_curve(*learner(3))
    found = find_stoves_needed(curve, 0.1)
    assert rate_after(curve, found.made).value <= 0.1 < rate_after(curve, found.made - 1).value
    assert found.low < found.made < found.high
    assert not found.is_beyond_data


@pytest.mark.slow
def test_stoves_needed_cover_the_truth_as_promised():
    truth, hits = math.expm1((logit(0.1) - 0.5) / -0.8), []
    for seed in range(60):
        found = find_stoves_needed(fit_learning_curve(*learner(seed)), 0.1)
        if found is not None:
            hits.append(found.low <= truth <= (found.high or math.inf))
    assert len(hits) > 50
    assert np.mean(hits) >= 0.9


def test_target_beyond_the_stoves_made_is_marked_as_carried_on():
    curve = fit_learning_curve(*learner(3))
    assert find_stoves_needed(curve, 0.004).is_beyond_data


def test_curve_that_starts_at_the_target_needs_no_stove():
    curve = fit_learning_curve(*learner(3))
    assert find_stoves_needed(curve, 0.95).made == 0


@pytest.mark.parametrize("slope", [0.0, 0.5])
def test_no_number_of_stoves_where_the_rate_does_not_clearly_fall(slope):
    made, failed = learner(6, stoves=60, start=-1, slope=slope)
    assert find_stoves_needed(fit_learning_curve(made, failed), 0.05) is None


def test_four_stoves_tell_nothing():
    curve = fit_learning_curve([0, 1, 2, 3], [1, 1, 0, 0])
    assert not curve.is_clear
    assert find_stoves_needed(curve, 0.05) is None


def test_maker_without_a_failure_has_a_curve_but_no_clear_slope():
    curve = fit_learning_curve(list(range(20)), [0] * 20)
    assert not curve.is_clear
    assert 0 < rate_after(curve, 19).value < 0.1


@pytest.mark.parametrize(
    ("made", "failed"),
    [
        ([], []),
        ([5], [1]),
        ([3, 3, 3], [0, 1, 0]),
        ([-1, 2], [0, 1]),
        ([1, 2], [0]),
        ([1, 2], [0, 2]),
    ],
)
def test_rows_without_a_curve_are_refused(made, failed):
    with pytest.raises(BadInput):
        fit_learning_curve(made, failed)


@pytest.mark.parametrize("target", [0, 1, 5])
def test_target_that_is_no_rate_is_refused(target):
    with pytest.raises(BadInput):
        find_stoves_needed(fit_learning_curve(*learner(3)), target)
