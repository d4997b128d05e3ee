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
    find_outgoing_limit,
    operating_curve,
    outgoing_curve,
    outgoing_quality,
)
from tests.stats.oracles import load_json

EXAMPLES = load_json("acceptance_examples")


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


# Source: NIST/SEMATECH 6.2.3.2 (memory), whose column is chance times rate without (N - n)/N; its
# first entry is a slip of the decimal point, and the chances at 0.04 and 0.05 are one off.
def test_outgoing_quality_is_the_handbooks():
    row, _other = EXAMPLES["outgoing"]
    rest = (row["N"] - row["n"]) / row["N"]
    found = [outgoing_quality(row["N"], row["n"], row["c"], p) / rest for p in row["p"]]
    assert found[1:] == pytest.approx(row["aoq_published"][1:], abs=1.1e-4)
    assert max(found) == pytest.approx(row["aoql_published"], abs=5e-5)


# Source: support page of a statistics package (secondary), which keeps (N - n)/N.
def test_outgoing_limit_is_the_published_one():
    row = EXAMPLES["outgoing"][1]
    lot, n, ac = row["N"], row["n"], row["c"]
    assert outgoing_quality(lot, n, ac, row["p"][0]) == pytest.approx(
        row["aoq_exact_published"][0], abs=5e-5
    )
    worst = find_outgoing_limit(lot, n, ac)
    assert worst.outgoing == pytest.approx(row["aoql_published"], abs=5e-6)
    assert worst.made == pytest.approx(row["aoql_at"], abs=5e-4)


# Source: Dodge and Romig's maxima of the Poisson (memory): the limit of a small share of a large
# batch is y / n.
def test_outgoing_limits_of_large_batches_are_dodge_and_romigs():
    row = EXAMPLES["poisson_maxima"]
    for ac, y in zip(row["ac"], row["y"], strict=True):
        assert 5000 * find_outgoing_limit(10**9, 5000, ac).outgoing == pytest.approx(y, rel=1e-3)


def test_outgoing_quality_is_what_a_yard_that_inspects_refused_batches_whole_sends_out():
    rng = np.random.default_rng(4)
    lot, n, ac, made = 90, 20, 1, 0.06
    faulty = rng.random((20_000, lot)) < made
    found = faulty[:, :n].sum(axis=1)
    left = np.where(found <= ac, faulty[:, n:].sum(axis=1), 0)
    assert outgoing_quality(lot, n, ac, made) == pytest.approx(left.mean() / lot, rel=0.02)


def test_no_making_sends_out_more_than_the_limit():
    worst = find_outgoing_limit(90, 20, 1)
    curve = outgoing_curve(90, 20, 1, 0.3)
    assert curve[0].outgoing == 0 and curve[-1].made == pytest.approx(0.3)
    assert max(point.outgoing for point in curve) <= worst.outgoing
    assert find_outgoing_limit(20, 20, 1).outgoing == 0, "nothing is left that nobody looked at"


@pytest.mark.parametrize(
    "build",
    [
        lambda: operating_curve(10, 11, 0),
        lambda: operating_curve(10, 0, 0),
        lambda: operating_curve(0, 0, 0),
        lambda: bad_stoves_bound(60, 13, 14),
        lambda: bad_stoves_bound(60, 13, 0, 1),
        lambda: outgoing_quality(10, 11, 0, 0.1),
        lambda: outgoing_quality(10, 5, 0, 1.1),
        lambda: find_outgoing_limit(10, 0, 0),
        lambda: outgoing_curve(10, 5, 0, 1.0),
    ],
)
def test_numbers_that_cannot_be_are_refused(build):
    with pytest.raises(BadInput):
        build()
