"""Intervals of one rate: published values, scipy and statsmodels, edges, symmetry."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest, norm
from statsmodels.stats.proportion import proportion_confint

from qcapp.errors import BadInput
from qcapp.stats.proportion import (
    clopper_pearson_interval,
    mid_p_interval,
    stoves_for_half_width,
    wilson_interval,
)
from tests.stats.oracles import load_json

PUBLISHED = load_json("proportions")
METHODS = (wilson_interval, clopper_pearson_interval, mid_p_interval)
counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
levels = st.floats(0.5, 0.999)


# Source: Newcombe 1998, Table I, method 3 (secondary).
@pytest.mark.parametrize("row", PUBLISHED["wilson"], ids=lambda row: f"{row['x']}-of-{row['n']}")
def test_wilson_gives_newcombes_printed_limits(row):
    found = wilson_interval(row["x"], row["n"], row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=5e-5)


# Source: Newcombe 1998, Table I, method 5 (memory); NIST/SEMATECH 7.2.4.1, exact example (primary).
@pytest.mark.parametrize(
    "row", PUBLISHED["clopper_pearson"], ids=lambda row: f"{row['x']}-of-{row['n']}"
)
def test_exact_interval_gives_the_printed_limits(row):
    found = clopper_pearson_interval(row["x"], row["n"], row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=5e-5)


# Source: Newcombe 1998, Table I, method 6 (memory).
@pytest.mark.parametrize("row", PUBLISHED["mid_p"], ids=lambda row: f"{row['x']}-of-{row['n']}")
def test_mid_p_interval_gives_newcombes_printed_limits(row):
    found = mid_p_interval(row["x"], row["n"], row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=5e-5)


# Source: NIST/SEMATECH e-Handbook 7.2.4.1 (primary); it uses z = 1.645, so the fifth place is open.
def test_one_sided_wilson_limit_is_the_lower_end_at_twice_the_risk():
    row = PUBLISHED["wilson_one_sided_lower"]
    assert wilson_interval(row["x"], row["n"], 1 - 2 * row["alpha"]).low == pytest.approx(
        row["lo"], abs=2e-5
    )


@given(counts, levels)
def test_wilson_agrees_with_scipy(pair, level):
    found, theirs = (
        wilson_interval(*pair, level),
        binomtest(*pair).proportion_ci(level, method="wilson"),
    )
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-10)


@given(counts, levels)
def test_exact_interval_agrees_with_scipy(pair, level):
    found, theirs = (
        clopper_pearson_interval(*pair, level),
        binomtest(*pair).proportion_ci(level, method="exact"),
    )
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-10)


@given(counts)
def test_exact_interval_agrees_with_statsmodels(pair):
    found = clopper_pearson_interval(*pair)
    assert (found.low, found.high) == pytest.approx(
        proportion_confint(*pair, 0.05, "beta"), abs=1e-10
    )


@given(counts, levels)
def test_mid_p_tails_at_the_limits_are_what_was_asked(pair, level):
    failed, inspected = pair
    found, tail = mid_p_interval(failed, inspected, level), (1 - level) / 2
    if failed > 0:
        above = binom.sf(failed, inspected, found.low) + binom.pmf(failed, inspected, found.low) / 2
        assert above == pytest.approx(tail, abs=1e-8)
    if failed < inspected:
        below = (
            binom.cdf(failed - 1, inspected, found.high)
            + binom.pmf(failed, inspected, found.high) / 2
        )
        assert below == pytest.approx(tail, abs=1e-8)


@given(counts, levels)
def test_mid_p_interval_lies_inside_the_exact_one(pair, level):
    inner, outer = mid_p_interval(*pair, level), clopper_pearson_interval(*pair, level)
    assert outer.low <= inner.low + 1e-12
    assert inner.high <= outer.high + 1e-12


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.__name__)
@given(pair=counts, level=levels)
def test_swapping_failed_and_passed_mirrors_the_interval(method, pair, level):
    failed, inspected = pair
    one, other = method(failed, inspected, level), method(inspected - failed, inspected, level)
    assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-9)


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.__name__)
@pytest.mark.parametrize("inspected", [1, 7, 1_000_000])
def test_none_failed_starts_at_zero_and_all_failed_ends_at_one(method, inspected):
    none, every = method(0, inspected), method(inspected, inspected)
    assert (none.low, every.high) == (0, 1)
    assert 0 < none.high < 1
    assert 0 < every.low < 1


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.__name__)
@pytest.mark.parametrize(("failed", "inspected"), [(0, 0), (3, 2), (-1, 4), (1.5, 4)])
def test_counts_that_cannot_be_are_refused(method, failed, inspected):
    with pytest.raises(BadInput):
        method(failed, inspected)


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.__name__)
@pytest.mark.parametrize("level", [0, 1, 95, -0.1])
def test_level_outside_zero_to_one_is_refused(method, level):
    with pytest.raises(BadInput) as refusal:
        method(1, 4, level)
    assert refusal.value.where == "level"


def wilson_half_width(rate, inspected, level):
    z = norm.ppf((1 + level) / 2)
    return (
        z
        * math.sqrt(rate * (1 - rate) / inspected + (z / inspected / 2) ** 2)
        / (1 + z * z / inspected)
    )


@given(st.floats(0.005, 0.45), st.floats(0, 1), st.floats(0.5, 0.99))
def test_half_width_is_kept_with_the_number_given_and_not_with_one_less(half_width, rate, level):
    inspected = stoves_for_half_width(half_width, rate, level)
    assert wilson_half_width(rate, inspected, level) <= half_width + 1e-9
    if inspected > 1:
        assert wilson_half_width(rate, inspected - 1, level) > half_width - 1e-9


def test_half_width_of_the_real_interval_is_the_one_asked_for():
    inspected = stoves_for_half_width(0.05)
    found = wilson_interval(inspected // 2, inspected)
    assert (found.high - found.low) / 2 == pytest.approx(0.05, abs=1e-4)


@pytest.mark.parametrize(("half_width", "rate"), [(0, 0.5), (0.5, 0.5), (0.1, -0.1), (0.1, 1.1)])
def test_half_width_or_rate_out_of_range_is_refused(half_width, rate):
    with pytest.raises(BadInput):
        stoves_for_half_width(half_width, rate)
