"""Beta-binomial shrinkage: published groups, statsmodels-free checks, corners, coverage."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import betabinom, binom

from qcapp.errors import BadInput
from qcapp.stats.shrinkage import shrink_rates
from tests.stats.oracles import load_json

RATS = load_json("learning")["beta_binomial_rats"]
GROUPS = list(zip(RATS["y"], RATS["n"], strict=True))
person = st.integers(0, 40).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
people = st.lists(person, min_size=1, max_size=8).filter(lambda rows: any(n for _, n in rows))


# Source: Gelman et al., Bayesian Data Analysis 5.1 (data primary); the maximum was recomputed from
# them.
@pytest.mark.parametrize(("size", "name"), [(70, "groups_1_to_70"), (71, "groups_1_to_71")])
def test_fit_gives_the_maximum_of_the_published_groups(size, name):
    found, expected = shrink_rates(GROUPS[:size]), RATS["mle_recomputed"][name]
    assert found.mean * found.precision == pytest.approx(expected["alpha"], rel=1e-5)
    assert (1 - found.mean) * found.precision == pytest.approx(expected["beta"], rel=1e-5)
    assert not found.is_pooled


def test_rate_is_the_mean_of_the_beta_that_fit_and_counts_make():
    found, expected = shrink_rates(GROUPS), RATS["mle_recomputed"]["groups_1_to_71"]
    alpha, beta = expected["alpha"] + 4, expected["beta"] + 10
    assert found.people[70].rate == pytest.approx(alpha / (alpha + beta), rel=1e-5)


@settings(max_examples=40)
@given(people)
def test_no_other_yard_is_likelier_than_the_fitted_one(rows):
    found = shrink_rates(rows)
    failed, inspected = np.array([row for row in rows if row[1]]).T

    def likelihood(mean, precision):
        if math.isinf(precision):
            return binom.logpmf(failed, inspected, mean).sum()
        return betabinom.logpmf(failed, inspected, mean * precision, (1 - mean) * precision).sum()

    best = likelihood(found.mean, found.precision)
    for mean in (0.02, 0.1, 0.3, 0.6, 0.9):
        for precision in (0.3, 2, 15, 200, math.inf):
            assert likelihood(mean, precision) <= best + 1e-4


@settings(max_examples=60)
@given(people)
def test_shrunk_rate_lies_between_raw_and_the_yards_and_in_its_interval(rows):
    found = shrink_rates(rows)
    for row in found.people:
        low, high = sorted((found.mean if row.raw is None else row.raw, found.mean))
        assert low - 1e-12 <= row.rate <= high + 1e-12
        assert 0 <= row.low <= row.rate <= row.high <= 1


@settings(max_examples=40)
@given(people)
def test_swapping_failed_and_passed_mirrors_every_rate(rows):
    one, other = shrink_rates(rows), shrink_rates([(n - f, n) for f, n in rows])
    assert one.is_pooled == other.is_pooled
    for mine, theirs in zip(one.people, other.people, strict=True):
        mirrored = (1 - theirs.rate, 1 - theirs.high, 1 - theirs.low)
        assert (mine.rate, mine.low, mine.high) == pytest.approx(mirrored, abs=1e-4)


def test_people_alike_beyond_chance_are_pooled_whole():
    found = shrink_rates([(2, 20), (1, 10), (4, 40)])
    assert found.is_pooled
    assert found.precision == math.inf
    assert [row.rate for row in found.people] == pytest.approx([0.1] * 3)


def test_more_stoves_make_a_narrower_interval_even_when_pooled():
    few, _, many = shrink_rates([(1, 10), (4, 40), (40, 400)]).people
    assert many.high - many.low < few.high - few.low


def test_one_person_keeps_the_raw_rate():
    (row,) = shrink_rates([(3, 40)]).people
    assert row.rate == row.raw == 3 / 40
    assert row.low < 3 / 40 < row.high


def test_no_failure_at_all_still_leaves_room_above():
    for row in shrink_rates([(0, 4), (0, 30)]).people:
        assert row.rate == row.low == 0
        assert row.high > 0.02


def test_person_without_stoves_gets_the_yards_rate_and_the_widest_interval():
    found = shrink_rates([*GROUPS, (0, 0)])
    newcomer = found.people[-1]
    assert newcomer.raw is None
    assert newcomer.rate == pytest.approx(found.mean)
    assert newcomer.high - newcomer.low > max(row.high - row.low for row in found.people[:70])


def test_people_wide_apart_keep_their_own_rates():
    low, high = shrink_rates([(0, 200), (200, 200)]).people
    assert low.rate < 0.01
    assert high.rate > 0.99


@pytest.mark.parametrize(
    ("size", "stoves", "alpha", "beta"),
    [(12, 30, 2, 18), (4, 30, 2, 18), (12, 10, 2, 18), (8, 30, 20, 180)],
)
def test_intervals_cover_about_what_they_promise(size, stoves, alpha, beta):
    rng, hits = np.random.default_rng(5), []
    for _ in range(80):
        truth = rng.beta(alpha, beta, size)
        found = shrink_rates([(failed, stoves) for failed in rng.binomial(stoves, truth).tolist()])
        hits += [row.low <= rate <= row.high for row, rate in zip(found.people, truth, strict=True)]
    assert np.mean(hits) >= 0.9


def test_whole_programme_is_fitted():
    rng = np.random.default_rng(8)
    truth = rng.beta(5, 95, 200)
    rows = [(failed, 5000) for failed in rng.binomial(5000, truth).tolist()]
    found = shrink_rates(rows)
    assert found.mean == pytest.approx(0.05, abs=0.005)
    assert found.precision == pytest.approx(100, rel=0.35)


@pytest.mark.parametrize("rows", [[], [(0, 0)], [(3, 2)]])
def test_counts_that_cannot_be_are_refused(rows):
    with pytest.raises(BadInput):
        shrink_rates(rows)
