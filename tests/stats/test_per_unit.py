"""Faults per stove: published limits of a Poisson count, how often the interval holds its level."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from qcapp.errors import BadInput
from qcapp.stats.per_unit import find_dispersion, poisson_interval, rate_per_unit


# Source: Garwood 1936, table 1, 95 % limits as reprinted in tables of the Poisson mean (memory).
@pytest.mark.parametrize(
    ("count", "low", "high"),
    [(0, 0, 3.689), (1, 0.0253, 5.572), (2, 0.242, 7.225), (5, 1.623, 11.668), (10, 4.795, 18.390)],
)
def test_limits_of_a_count_are_those_of_the_table(count, low, high):
    assert poisson_interval(count, 1) == pytest.approx((low, high), abs=6e-4)


# Garwood's limits are quantiles of chi-squared: the same from scipy's own distribution.
@given(st.integers(1, 400), st.integers(1, 90), st.sampled_from([0.9, 0.95, 0.99]))
def test_limits_are_the_quantiles_of_chi_squared(count, units, level):
    tail = (1 - level) / 2
    wanted = chi2.ppf(tail, 2 * count) / 2, chi2.isf(tail, 2 * count + 2) / 2
    assert poisson_interval(count, units, level) == pytest.approx(
        [end / units for end in wanted], rel=1e-9
    )


def test_stoves_that_differ_no_more_than_chance_keep_the_exact_limits():
    counts = [1, 0, 1, 0, 0, 1, 0, 1]
    found = rate_per_unit(counts)
    assert find_dispersion(counts) == 1
    assert (found.value, found.low, found.high) == (0.5, *poisson_interval(4, 8))


def test_faults_that_come_together_widen_the_interval_about_the_same_rate():
    apart, together = rate_per_unit([1] * 12 + [0] * 48), rate_per_unit([6, 6] + [0] * 58)
    assert apart.value == together.value
    assert together.low < apart.low and together.high > apart.high


@pytest.mark.parametrize(
    ("mean", "shape", "least"), [(0.3, None, 0.945), (0.3, 1.0, 0.93), (1.0, 0.5, 0.91)]
)
def test_interval_holds_its_level_with_seventy_stoves(mean, shape, least):
    """shape: of the gamma that stoves' own rates follow; None: all alike."""
    rng = np.random.default_rng(7)
    hits = 0
    for _ in range(1500):
        rates = np.full(70, mean) if shape is None else rng.gamma(shape, mean / shape, 70)
        found = rate_per_unit(rng.poisson(rates).tolist())
        hits += found.low <= mean <= found.high
    assert hits / 1500 >= least


@pytest.mark.parametrize(
    "build",
    [
        lambda: rate_per_unit([]),
        lambda: rate_per_unit([1, -1]),
        lambda: poisson_interval(1, 0),
        lambda: poisson_interval(-1, 1),
        lambda: poisson_interval(1, 1, 1.0),
    ],
)
def test_counts_that_cannot_be_are_refused(build):
    with pytest.raises(BadInput):
        build()
