"""The exact test over batches, against scipy, brute force and its own promise."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from qcapp.errors import BadInput
from qcapp.stats.exact import stratified_exact_p
from qcapp.stats.strata import Stratum

pytestmark = pytest.mark.slow


def brute_force(strata):
    """Every table of every batch, one by one."""
    observed = sum(s.a_failed for s in strata)
    chances = {}
    ranges = [range(s.a_inspected + 1) for s in strata]
    for counts in product(*ranges):
        chance = 1.0
        for s, count in zip(strata, counts, strict=True):
            total = s.a_inspected + s.b_inspected
            chance *= hypergeom(total, s.a_failed + s.b_failed, s.a_inspected).pmf(count)
        chances[sum(counts)] = chances.get(sum(counts), 0.0) + chance
    upper = sum(c for k, c in chances.items() if k > observed) + chances[observed] / 2
    lower = sum(c for k, c in chances.items() if k < observed) + chances[observed] / 2
    return min(1.0, 2 * min(upper, lower))


@st.composite
def strata(draw):
    a, b = draw(st.integers(1, 6)), draw(st.integers(1, 6))
    return Stratum(draw(st.integers(0, a)), a, draw(st.integers(0, b)), b)


@given(st.lists(strata(), min_size=1, max_size=3))
def test_convolution_is_the_enumeration_of_all_tables(given_strata):
    found = stratified_exact_p(given_strata)
    if found is None:
        assert all(
            s.a_failed + s.b_failed in (0, s.a_inspected + s.b_inspected) for s in given_strata
        )
    else:
        assert found == pytest.approx(brute_force(given_strata), abs=1e-9)


def test_tea_table_of_fisher():
    """Fisher (1935), The Design of Experiments: 3 of 4 right; tail 17/70 with the table itself
    (exact p 0.4857 two-sided in tests/reference/proportions.json). Mid-p: 2 (1/70 + 16/70 / 2)."""
    assert stratified_exact_p([Stratum(3, 4, 1, 4)]) == pytest.approx(2 * (1 / 70 + 8 / 70))


@given(st.lists(strata(), min_size=1, max_size=4))
def test_groups_swapped_give_the_same_p(given_strata):
    swapped = [Stratum(s.b_failed, s.b_inspected, s.a_failed, s.a_inspected) for s in given_strata]
    first, second = stratified_exact_p(given_strata), stratified_exact_p(swapped)
    assert first == second or first == pytest.approx(second)


def test_batches_that_say_nothing_change_nothing():
    told = [Stratum(6, 20, 1, 30)]
    silent = [Stratum(0, 0, 3, 9), Stratum(0, 5, 0, 8), Stratum(4, 4, 3, 3)]
    assert stratified_exact_p(told + silent) == pytest.approx(stratified_exact_p(told))
    assert stratified_exact_p(silent) is None


def test_small_p_is_not_found_more_often_than_promised():
    """Four hundred sparse yards without a difference: a p up to 0.05 in about one of twenty."""
    rng = np.random.default_rng(20261125)
    found = 0
    for _ in range(400):
        sample = []
        for _batch in range(5):
            rate = rng.uniform(0.01, 0.2)
            a, b = int(rng.integers(3, 12)), int(rng.integers(10, 40))
            sample.append(Stratum(int(rng.binomial(a, rate)), a, int(rng.binomial(b, rate)), b))
        p = stratified_exact_p(sample)
        found += p is not None and p <= 0.05
    assert found / 400 <= 0.08


def test_impossible_counts_are_refused():
    with pytest.raises(BadInput):
        stratified_exact_p([Stratum(5, 4, 0, 3)])
