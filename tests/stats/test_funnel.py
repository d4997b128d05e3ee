"""Funnel limits and the spread between places, against exact sums and another program."""

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from qcapp.errors import BadInput
from qcapp.stats.funnel import exact_limit, find_dispersion, find_standing_out, wide_limit


def sum_exactly(count, inspected, rate):
    return sum(
        comb(inspected, r) * rate**r * (1 - rate) ** (inspected - r) for r in range(count + 1)
    )


@pytest.mark.parametrize("inspected", [1, 2, 7, 30, 144])
@pytest.mark.parametrize("rate", [Fraction(1, 50), Fraction(74, 1000), Fraction(1, 2)])
@pytest.mark.parametrize("tail", [Fraction(1, 1000), Fraction(1, 40), Fraction(39, 40)])
def test_the_limit_interpolates_exact_binomial_sums(inspected, rate, tail):
    count = next(r for r in range(inspected + 1) if sum_exactly(r, inspected, rate) >= tail)
    below = sum_exactly(count - 1, inspected, rate) if count else Fraction(0)
    reached = sum_exactly(count, inspected, rate)
    wanted = max(Fraction(0), (count - (reached - tail) / (reached - below)) / inspected)
    assert exact_limit(float(rate), inspected, float(tail)) == pytest.approx(
        float(wanted), abs=1e-9
    )


def test_limits_close_in_as_places_grow_and_stay_shares():
    for tail, sign in ((0.025, 1), (0.975, -1)):
        limits = [exact_limit(0.2, n, tail) for n in (30, 60, 120, 240, 480, 2000)]
        steps = np.diff(limits) * sign
        assert (steps > 0).all() and all(0 <= limit <= 1 for limit in limits)
    # At 2,000 stoves the bell curve is near: 0.2 + 1.96 sqrt(0.16 / 2000) = 0.2175.
    assert limits[-1] == pytest.approx(0.2175, abs=0.0005)
    assert exact_limit(0.0, 5, 0.975) == 0 and exact_limit(1.0, 5, 0.025) == 1


def test_the_spread_between_places_is_that_of_another_program():
    """statsmodels, combine_effects with one step of moments, its weights by the same target.

    With fewer than ten places nothing is drawn in, so the two must agree.
    """
    counts = [(9, 60), (20, 80), (4, 45), (30, 90), (12, 70)]
    target = sum(failed for failed, _ in counts) / sum(n for _, n in counts)
    rates = np.array([failed / n for failed, n in counts])
    variances = np.array([target * (1 - target) / n for _, n in counts])
    found = combine_effects(rates, variances, method_re="dl")
    spread = find_dispersion(counts, target)
    assert spread.between**2 == pytest.approx(found.tau2, rel=1e-9)
    assert spread.ratio * len(counts) == pytest.approx(found.q, rel=1e-9)


def test_one_odd_place_of_ten_does_not_widen_the_limits_much():
    alike = [(10, 100)] * 5 + [(11, 100)] * 4
    with_odd = [*alike, (45, 100)]
    assert find_dispersion(with_odd, 0.105).between < 0.02
    assert find_dispersion([(8, 100), (45, 100)], 0.265).between > 0.1


def test_a_wide_limit_adds_both_variances():
    """sqrt(0.2 * 0.8 / 100 + 0.03^2) = 0.05, and 1.959964 of them above 0.2 is 0.298."""
    assert wide_limit(0.2, 100, 0.03, 0.975) == pytest.approx(0.2 + 0.05 * 1.959964, abs=1e-6)
    assert wide_limit(0.2, 100, 0.3, 0.001) == 0


def test_nothing_to_compare_is_no_spread():
    for counts, target in (([(3, 10)], 0.3), ([(0, 10), (0, 20)], 0.0), ([(5, 5), (9, 9)], 1.0)):
        assert find_dispersion(counts, target).between == 0
    with pytest.raises(BadInput):
        find_dispersion([(0, 0), (1, 4)], 0.2)


def test_one_odd_place_is_found_though_it_lifts_the_line_of_all():
    counts = [(6, 60), (34, 80), (7, 70), (10, 90), (3, 9)]
    assert find_standing_out(counts) == {1}
    low = [(40, 100), (44, 110), (5, 100), (35, 90)]
    assert find_standing_out(low) == {2}


def test_of_two_places_neither_is_the_odd_one():
    assert find_standing_out([(1, 100), (60, 100)]) == frozenset()
    assert find_standing_out([(0, 50), (0, 60), (0, 70)]) == frozenset()


@pytest.mark.parametrize(("places", "smallest", "largest"), [(3, 20, 60), (8, 40, 400)])
@pytest.mark.parametrize("rate", [0.05, 0.15])
def test_equal_places_are_seldom_named(places, smallest, largest, rate):
    """500 programmes of one true rate: at most 0.5 % of the places are said to stand out."""
    draw = np.random.default_rng(20261130)
    named = 0
    for _ in range(500):
        sizes = draw.integers(smallest, largest, places)
        counts = list(zip(draw.binomial(sizes, rate).tolist(), sizes.tolist(), strict=True))
        named += len(find_standing_out(counts))
    assert named / (500 * places) < 0.005


def test_a_place_that_truly_differs_is_found():
    draw = np.random.default_rng(7)
    rates = np.array([0.1] * 9 + [0.3])
    found = sum(
        9 in find_standing_out([(int(failed), 200) for failed in draw.binomial(200, rates)])
        for _ in range(100)
    )
    assert found >= 95
