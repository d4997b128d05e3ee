"""Two rates: published values, scipy and statsmodels, edges, symmetry."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats
from scipy.stats import norm
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep, power_proportions_2indep

from qcapp.errors import BadInput
from qcapp.stats.compare import (
    benjamini_hochberg,
    find_risk_ratio,
    find_stoves_to_distinguish,
    fisher_exact,
    newcombe_difference,
)
from tests.stats.oracles import load_json

PUBLISHED = load_json("proportions")
counts = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


# Source: Newcombe 1998, Table II, method 10 (secondary).
@pytest.mark.parametrize("row", PUBLISHED["difference_newcombe"], ids=lambda row: row["case"])
def test_difference_gives_newcombes_printed_limits(row):
    found = newcombe_difference(row["x1"], row["n1"], row["x2"], row["n2"], row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=5e-5)
    assert found.value == pytest.approx(row["x1"] / row["n1"] - row["x2"] / row["n2"])


@given(counts, counts)
def test_difference_agrees_with_statsmodels(a, b):
    found = newcombe_difference(*a, *b)
    assert (found.low, found.high) == pytest.approx(
        confint_proportions_2indep(*a, *b, method="newcomb", compare="diff"), abs=1e-9
    )


@given(counts, counts)
def test_swapping_groups_turns_the_difference_round(a, b):
    one, other = newcombe_difference(*a, *b), newcombe_difference(*b, *a)
    assert (one.value, one.low, one.high) == pytest.approx((-other.value, -other.high, -other.low))


# Source: Fisher 1935, tea tasting (two-sided value secondary).
def test_fisher_gives_the_tea_tasting_values():
    row = PUBLISHED["fisher_exact"][0]
    assert fisher_exact(3, 4, 1, 4) == pytest.approx(row["p_two_sided_published"], abs=5e-5)


@given(counts, counts)
def test_fisher_agrees_with_scipy(a, b):
    table = [[a[0], a[1] - a[0]], [b[0], b[1] - b[0]]]
    assert fisher_exact(*a, *b) == pytest.approx(
        stats.fisher_exact(table).pvalue, rel=1e-9, abs=1e-12
    )


@given(counts, counts)
def test_fisher_does_not_care_which_group_or_verdict_comes_first(a, b):
    p_value = fisher_exact(*a, *b)
    assert fisher_exact(*b, *a) == pytest.approx(p_value)
    assert fisher_exact(a[1] - a[0], a[1], b[1] - b[0], b[1]) == pytest.approx(p_value)


def test_fisher_on_a_whole_programme_is_quick_and_finite():
    assert 0 <= fisher_exact(3_000, 100_000, 27_500, 900_000) <= 1


@given(counts, counts)
def test_risk_ratio_agrees_with_statsmodels_where_both_groups_failed(a, b):
    assume(a[0] > 0 and b[0] > 0 and (a[0] < a[1] or b[0] < b[1]))
    found = find_risk_ratio(*a, *b)
    assert not found.is_corrected
    assert found.value == pytest.approx(a[0] / a[1] / (b[0] / b[1]))
    theirs = confint_proportions_2indep(*a, *b, method="log", compare="ratio")
    assert (found.low, found.high) == pytest.approx(theirs, rel=1e-6)


def test_halves_are_added_where_one_group_never_failed():
    found = find_risk_ratio(0, 10, 4, 10)
    assert found.is_corrected
    assert found.value == pytest.approx((0.5 / 11) / (4.5 / 11))
    reach = stats.norm.ppf(0.975) * math.sqrt(1 / 0.5 - 1 / 11 + 1 / 4.5 - 1 / 11)
    assert math.log(found.high) == pytest.approx(math.log(found.value) + reach)


def test_halves_are_added_where_every_stove_failed():
    found = find_risk_ratio(3, 3, 5, 5)
    assert found.is_corrected
    assert found.low < 1 < found.high


def test_no_failure_at_all_has_no_ratio():
    assert find_risk_ratio(0, 10, 0, 20) is None


@given(counts, counts)
def test_swapping_groups_turns_the_ratio_over(a, b):
    if a[0] + b[0] > 0:
        one, other = find_risk_ratio(*a, *b), find_risk_ratio(*b, *a)
        assert (one.value, one.low, one.high) == pytest.approx(
            (1 / other.value, 1 / other.high, 1 / other.low)
        )


# Source: Benjamini and Hochberg 1995, 15 p values (secondary).
def test_benjamini_hochberg_gives_the_published_example():
    row = PUBLISHED["multiple_testing"]
    adjusted = benjamini_hochberg(row["p"])
    assert adjusted == pytest.approx(row["bh_adjusted"], abs=5e-7)
    assert sum(p <= row["q"] for p in adjusted) == row["bh_rejected"]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_benjamini_hochberg_agrees_with_statsmodels(p_values):
    assert benjamini_hochberg(p_values) == pytest.approx(
        multipletests(p_values, method="fdr_bh")[1], abs=1e-12
    )


def test_nothing_tested_gives_nothing_adjusted():
    assert benjamini_hochberg([]) == ()


@pytest.mark.parametrize("p_values", [[1.1], [-0.1], [float("nan")]])
def test_what_is_no_probability_is_refused(p_values):
    with pytest.raises(BadInput):
        benjamini_hochberg(p_values)


@pytest.mark.parametrize("b_per_a", [0.5, 1, 4])
@pytest.mark.parametrize(("a_rate", "b_rate"), [(0.2, 0.05), (0.15, 0.1), (0.5, 0.3)])
def test_stoves_to_tell_give_the_power_asked_by_statsmodels(a_rate, b_rate, b_per_a):
    stoves = find_stoves_to_distinguish(a_rate, b_rate, 0.95, 0.8, b_per_a)

    def power(n):
        asked = power_proportions_2indep(
            a_rate - b_rate, b_rate, n, ratio=b_per_a, alpha=0.05, return_results=False
        )
        return float(np.asarray(asked))

    # Theirs holds the rates under "no difference" at group b's rate or pools them: allow 2 points.
    assert power(stoves) == pytest.approx(0.8, abs=0.02)


def test_stoves_to_tell_show_the_difference_as_often_as_promised_in_a_trial():
    stoves = find_stoves_to_distinguish(0.25, 0.1)
    rng = np.random.default_rng(20261125)
    a, b = rng.binomial(stoves, 0.25, 20_000), rng.binomial(stoves, 0.1, 20_000)
    pooled = (a + b) / (2 * stoves)
    z = (a - b) / stoves / np.sqrt(2 * pooled * (1 - pooled) / stoves)
    # Whole counts make the test's own level jump: 2 points more or less.
    assert (abs(z) > 1.959964).mean() == pytest.approx(0.8, abs=0.025)


def test_equal_rates_are_told_apart_by_no_number():
    assert find_stoves_to_distinguish(0.1, 0.1) is None


def test_people_who_differ_set_an_end_to_what_stoves_can_tell():
    """With a variance v between groups that stoves do not lessen, they must find what is left of
    the difference: d^2 - (z_a + z_b)^2 v.
    """
    alike = find_stoves_to_distinguish(0.2, 0.1)
    left = 0.1**2 - (norm.ppf(0.975) + norm.ppf(0.8)) ** 2 * 0.0005
    found = find_stoves_to_distinguish(0.2, 0.1, between=0.0005)
    assert found == pytest.approx(alike * 0.1**2 / left, abs=2)
    assert find_stoves_to_distinguish(0.2, 0.1, between=0.01) is None
    with pytest.raises(BadInput):
        find_stoves_to_distinguish(0.2, 0.1, between=-0.1)


def test_smaller_differences_take_more_stoves():
    assert (
        find_stoves_to_distinguish(0.2, 0.1)
        < find_stoves_to_distinguish(0.15, 0.1)
        < find_stoves_to_distinguish(0.11, 0.1)
    )


@pytest.mark.parametrize("compare", [newcombe_difference, fisher_exact, find_risk_ratio])
def test_empty_group_is_refused(compare):
    with pytest.raises(BadInput):
        compare(1, 4, 0, 0)
