"""What a sample promises: exact counting, bounds, edges."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from qcapp.errors import BadInput
from qcapp.stats.operating import (
    bad_stoves_bound,
    operating_curve,
)

samples = st.integers(1, 80).flatmap(
    lambda lot: st.integers(1, lot).flatmap(
        lambda n: st.tuples(st.just(lot), st.just(n), st.integers(0, n))
    )
)


def acceptance_chance(lot, bad, n, ac):
    return operating_curve(lot, n, ac)[bad].acceptance


@pytest.mark.parametrize(
    ("lot", "bad", "n", "ac"), [(7, 3, 4, 1), (9, 2, 3, 0), (8, 8, 5, 4), (6, 0, 2, 0)]
)
def test_chance_is_what_counting_every_sample_gives(lot, bad, n, ac):
    drawn = [sum(stove < bad for stove in sample) <= ac for sample in combinations(range(lot), n)]
    assert acceptance_chance(lot, bad, n, ac) == pytest.approx(np.mean(drawn))


@given(samples)
def test_curve_starts_at_certainty_never_rises_and_holds_single_chances(sample):
    lot, n, ac = sample
    curve = operating_curve(lot, n, ac)
    assert len(curve) == lot + 1
    assert curve[0].acceptance == pytest.approx(1, abs=1e-14)
    chances = [point.acceptance for point in curve]
    assert all(later <= earlier + 1e-12 for earlier, later in pairwise(chances))
    theirs = hypergeom.cdf(ac, lot, np.arange(lot + 1), n)
    assert chances == pytest.approx(theirs, rel=1e-9, abs=1e-15)
    assert curve[-1].share == 1


def test_bound_of_a_clean_sample_is_the_one_counted_by_hand():
    # 13 of 60, none found: 11 bad left would stay hidden in 5.08 % of samples, 12 in 3.7 %.
    assert bad_stoves_bound(60, 13, 0) == 11
    assert acceptance_chance(60, 11, 13, 0) > 0.05 >= acceptance_chance(60, 12, 13, 0)


@given(samples, st.floats(0.5, 0.99))
def test_bound_is_the_last_number_the_sample_does_not_rule_out(sample, level):
    lot, n, found = sample
    left = bad_stoves_bound(lot, n, found, level)
    assert 0 <= left <= lot - n
    # Where the tail equals 1 - level, the last binary digit decides; so a hair is allowed.
    assert hypergeom.cdf(found, lot, found + left, n) > 1 - level - 1e-12
    if left < lot - n:
        assert hypergeom.cdf(found, lot, found + left + 1, n) <= 1 - level + 1e-12


@pytest.mark.parametrize("bad", [0, 1, 3, 8, 20])
def test_bound_holds_at_least_as_often_as_promised(bad):
    chance_of = [hypergeom.pmf(found, 60, bad, 13) for found in range(14)]
    holds = [bad - found <= bad_stoves_bound(60, 13, found) for found in range(14)]
    assert sum(c for c, is_held in zip(chance_of, holds, strict=True) if is_held) >= 0.95


def test_nothing_is_left_where_every_stove_was_inspected():
    assert bad_stoves_bound(60, 60, 4) == 0


@pytest.mark.parametrize(
    "build",
    [
        lambda: operating_curve(10, 11, 0),
        lambda: operating_curve(10, 0, 0),
        lambda: operating_curve(0, 0, 0),
        lambda: bad_stoves_bound(60, 13, 14),
        lambda: bad_stoves_bound(60, 13, 0, 1),
    ],
)
def test_numbers_that_cannot_be_are_refused(build):
    with pytest.raises(BadInput):
        build()
