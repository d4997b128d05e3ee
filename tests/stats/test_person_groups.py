"""Groups of people compared: Student's t, quadrature, statsmodels' GEE, published rats."""

import tracemalloc

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.integrate import quad
from scipy.special import expit, log_expit, logit
from scipy.stats import binom, nchypergeom_fisher, norm, ttest_ind

from qcapp.errors import BadInput
from qcapp.stats.person_groups import SPREADS, compare_people, estimate_from
from qcapp.stats.person_likelihood import (
    CHANGES,
    MOST_FAULTS,
    RATES,
    PersonCount,
    change_likelihood,
    rate_likelihoods,
)
from tests.stats.oracles import load_json

FLAT = np.zeros(len(RATES))
JEFFREYS = (log_expit(RATES) + log_expit(-RATES)) / 2


def count(person, in_a, failed, inspected, batch="B1"):
    return PersonCount(person, in_a, batch, failed, inspected)


def compare(counts, prior=JEFFREYS):
    (found,) = compare_people([rate_likelihoods(counts)], RATES, prior)
    return found


def known(values, in_a):
    """People whose value is known almost exactly: only their spread is uncertain."""
    return {
        (f"{in_a}{place}", in_a): -0.5 * ((RATES - value) / 0.1) ** 2
        for place, value in enumerate(values)
    }


def test_p_is_close_to_students_where_each_persons_rate_is_known():
    """scipy.stats.ttest_ind, equal variances. A uniform spread costs about one degree of freedom
    (Gelman 2006), so with few people p is a little larger, never smaller.
    """
    rng = np.random.default_rng(3)
    for people, slack in (((2, 4), 3.0), ((5, 8), 1.5), ((15, 20), 1.15)):
        for _ in range(6):
            a, b = (
                rng.normal(-3 + shift, 0.9, size)
                for shift, size in zip((0.8, 0), people, strict=True)
            )
            (found,) = compare_people([known(a, True) | known(b, False)], RATES, FLAT)
            expected = ttest_ind(a, b).pvalue
            assert expected * 0.85 <= found.p <= expected * slack + 0.05, (people, expected)


def test_stoves_of_one_person_are_no_witnesses_of_each_other():
    """All faults of the apprentices are one person's: taken as stoves it is 1 in 10,000."""
    counts = [count("N1", True, 12, 60), count("N2", True, 0, 60)]
    counts += [count(f"E{n}", False, 1, 60) for n in range(4)]
    assert compare(counts).p > 0.2
    even = [count("N1", True, 6, 60), count("N2", True, 6, 60), *counts[2:]]
    assert compare(even).p < compare(counts).p / 2


def test_more_stoves_of_the_same_people_do_not_make_certainty():
    def p(times):
        rates = {"N1": (True, 8), "N2": (True, 3), "E1": (False, 1), "E2": (False, 5)}
        return compare([count(who, a, k * times, 50 * times) for who, (a, k) in rates.items()]).p

    assert p(1) > 0.3 and p(100) > 0.3


def test_spread_of_the_other_steps_is_taken_for_this_one():
    alike = rate_likelihoods([count(f"E{n}", n < 2, 5, 100) for n in range(6)])
    unlike = rate_likelihoods([count(f"E{n}", n < 2, 1 + 8 * (n % 3), 100) for n in range(6)])
    asked = rate_likelihoods([count(f"E{n}", n < 2, 14 if n < 2 else 5, 100) for n in range(6)])
    alone = compare_people([asked], RATES, JEFFREYS)[0].p
    with_alike = compare_people([asked] + [alike] * 8, RATES, JEFFREYS)[0].p
    with_unlike = compare_people([asked] + [unlike] * 8, RATES, JEFFREYS)[0].p
    assert with_alike < alone / 2 < with_unlike


def test_many_people_agree_with_the_robust_fit_of_statsmodels():
    """GEE (Liang and Zeger 1986), people as clusters: valid with many of them."""
    rng = np.random.default_rng(8)
    for shift in (0.0, 0.5):
        log_odds = logit(0.15) + rng.normal(0, 0.7, 80) + shift * (np.arange(80) < 40)
        failed = rng.binomial(40, expit(log_odds))
        found = compare([count(f"{n:02}", n < 40, failed[n], 40) for n in range(80)])
        group = np.repeat((np.arange(80) < 40).astype(float), 40)
        stoves = np.concatenate([np.arange(40) < k for k in failed]).astype(float)
        fit = sm.GEE(
            stoves,
            sm.add_constant(group),
            groups=np.repeat(np.arange(80), 40),
            family=sm.families.Binomial(),
        ).fit()
        z, theirs = norm.isf(found.p / 2), norm.isf(fit.pvalues[1] / 2)
        assert z == pytest.approx(theirs, rel=0.12, abs=0.35)


# Source: Gelman et al., Bayesian Data Analysis 5.1 (data primary); the beta's parameters were
# recomputed from them. The log odds of a beta have the variance trigamma(a) + trigamma(b).
def test_spread_of_the_published_rats_is_found():
    rats = load_json("learning")["beta_binomial_rats"]
    rows = list(zip(rats["y"], rats["n"], strict=True))
    found = compare([count(f"{n:02}", n % 2 == 0, *row) for n, row in enumerate(rows)])
    assert found.p > 0.05
    assert found.spread.low < 0.76 < found.spread.high
    assert found.spread.value == pytest.approx(0.7, abs=0.12)


def test_likelihood_of_a_group_is_that_of_quadrature():
    """One person a side and a spread held at 1: the integral over the person's own log odds."""
    likelihoods = rate_likelihoods([count("N", True, 3, 30), count("E", False, 1, 30)])
    place = list(SPREADS).index(1.0)

    def integral(mean, failed):
        return quad(
            lambda u: binom.pmf(failed, 30, expit(mean + u)) * norm.pdf(u), -8, 8, limit=200
        )[0]

    from qcapp.stats import person_groups  # noqa: PLC0415  (the sum under test is its own)

    means = person_groups._weigh_means(likelihoods, RATES, FLAT)
    for side, failed in ((means.a, 3), (means.b, 1)):
        ratio = side[place][40] / side[place][56]
        expected = integral(RATES[40], failed) / integral(RATES[56], failed)
        assert ratio == pytest.approx(expected, rel=5e-3)


def test_swapping_groups_turns_everything_round():
    counts = [count("N1", True, 9, 40), count("N2", True, 5, 50), count("E1", False, 2, 40)]
    counts += [count("E2", False, 3, 60), count("E3", False, 0, 20)]
    one, other = compare(counts), compare([each._replace(in_a=not each.in_a) for each in counts])
    assert one.p == pytest.approx(other.p) and one.joint == pytest.approx(other.joint.T)


def test_person_in_both_groups_is_one_person():
    """Somebody who became experienced on the way: the spread does not stand between the halves."""
    tied = [count("X", True, 20, 100), count("X", False, 6, 100)]
    tied += [count("Y", True, 18, 100), count("Y", False, 5, 100)]
    apart = [each._replace(person=f"{each.person}{each.in_a}") for each in tied]
    assert compare(tied).p < compare(apart).p / 3


def test_hard_batch_is_not_taken_for_the_people_who_got_it():
    hard, easy = ("HARD", 0.5), ("EASY", 0.05)
    counts = [
        count(who, in_a, round(rate * stoves), stoves, batch)
        for who, in_a, shares in (
            ("N1", True, (80, 20)),
            ("N2", True, (80, 20)),
            ("E1", False, (20, 80)),
            ("E2", False, (20, 80)),
        )
        for (batch, rate), stoves in zip((hard, easy), shares, strict=True)
    ]
    assert compare(counts).p > 0.7
    lumped = [each._replace(batch="ALL") for each in counts]
    assert compare(lumped).p < 0.2


def test_nobodys_rate_counts_for_more_than_a_hundred_faults():
    (few,) = rate_likelihoods([count("N", True, 110, 1100)]).values()
    (many,) = rate_likelihoods([count("N", True, 11_000, 110_000)]).values()
    curve = lambda likelihood: -np.gradient(np.gradient(likelihood, RATES), RATES).max()  # noqa: E731
    assert MOST_FAULTS == 100 and curve(many) == pytest.approx(curve(few), rel=0.05)


@pytest.mark.parametrize("counts", [(3, 20, 0, 15), (0, 20, 0, 15), (20, 20, 1, 30), (1, 5, 5, 5)])
def test_likelihood_of_a_change_is_the_noncentral_hypergeometric(counts):
    """scipy.stats.nchypergeom_fisher."""
    before, before_all, after, after_all = counts
    found = change_likelihood(*counts)
    expected = np.array(
        [
            nchypergeom_fisher.logpmf(
                after, before_all + after_all, after_all, before + after, np.exp(change)
            )
            for change in CHANGES[::8]
        ]
    )
    ours = found[::8]
    assert ours - ours.max() == pytest.approx(expected - expected.max(), abs=1e-6)


def test_estimate_holds_what_the_weights_say():
    values = np.array([3.0, 1.0, 2.0])
    found = estimate_from(values, np.array([0.01, 0.01, 0.98]), 0.95)
    assert (found.value, found.level) == (2.0, 0.95) and 1 < found.low < 2 < found.high < 3


def test_level_outside_is_refused():
    with pytest.raises(BadInput):
        compare_people([], RATES, FLAT, 1.0)


def test_many_people_in_many_batches_need_no_table_of_all_pairs():
    """A yard of many years: each person worked in few of its batches."""
    counts = [
        PersonCount(f"A{n}", n % 2 == 0, f"B{n + more}", n % 3, 9)
        for n in range(2000)
        for more in range(3)
    ]
    tracemalloc.start()
    found = rate_likelihoods(counts)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # All pairs would be 2,000 times 2,002 numbers of 8 bytes: 32 MB for each of several tables.
    assert len(found) == 2000 and peak < 10e6
