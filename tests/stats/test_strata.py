"""Mantel-Haenszel over batches: statsmodels, hand-made cases, coverage, Simpson's paradox."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from statsmodels.stats.contingency_tables import StratifiedTable

from qcapp.errors import BadInput
from qcapp.stats.strata import Stratum, mantel_haenszel

group = st.integers(1, 30).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
batches = st.lists(st.builds(lambda a, b: Stratum(*a, *b), group, group), min_size=1, max_size=6)


def statsmodels_table(strata):
    return StratifiedTable(
        [
            [[s.a_failed, s.a_inspected - s.a_failed], [s.b_failed, s.b_inspected - s.b_failed]]
            for s in strata
        ]
    )


@given(batches)
def test_odds_ratio_risk_ratio_and_test_agree_with_statsmodels(strata):
    found = mantel_haenszel(strata)
    assume(found.odds_ratio is not None and found.p_value is not None)
    theirs = statsmodels_table(strata)
    assert found.odds_ratio.value == pytest.approx(theirs.oddsratio_pooled)
    limits = theirs.oddsratio_pooled_confint()
    assert (found.odds_ratio.low, found.odds_ratio.high) == pytest.approx(tuple(limits))
    assert found.risk_ratio.value == pytest.approx(theirs.riskratio_pooled)
    assert found.p_value == pytest.approx(theirs.test_null_odds(correction=False).pvalue, abs=1e-12)


@given(batches)
def test_swapping_groups_turns_everything_round(strata):
    one = mantel_haenszel(strata)
    other = mantel_haenszel(
        [Stratum(s.b_failed, s.b_inspected, s.a_failed, s.a_inspected) for s in strata]
    )
    assume(one.risk_difference is not None)
    difference, turned = one.risk_difference, other.risk_difference
    assert (difference.low, difference.high) == pytest.approx(
        (-turned.high, -turned.low), abs=1e-12
    )
    for ratio, over in ((one.risk_ratio, other.risk_ratio), (one.odds_ratio, other.odds_ratio)):
        assert (ratio is None) == (over is None)
        if ratio is not None:
            assert (ratio.low, ratio.high) == pytest.approx((1 / over.high, 1 / over.low))
    assert one.p_value == pytest.approx(other.p_value, abs=1e-12)


def test_one_batch_gives_the_plain_difference_and_ratio():
    found = mantel_haenszel([Stratum(14, 80, 6, 240)])
    assert found.risk_difference.value == pytest.approx(14 / 80 - 6 / 240)
    assert found.risk_ratio.value == pytest.approx(7)


def test_risk_ratio_interval_of_one_batch_is_that_of_katz():
    # Greenland and Robins 1985: with one stratum their variance is 1/a - 1/n + 1/b - 1/m.
    found = mantel_haenszel([Stratum(14, 80, 6, 240)]).risk_ratio
    reach = 1.959964 * (1 / 14 - 1 / 80 + 1 / 6 - 1 / 240) ** 0.5
    assert (found.low, found.high) == pytest.approx(
        (7 * np.exp(-reach), 7 * np.exp(reach)), rel=1e-6
    )


def test_easy_batches_do_not_flatter_whoever_made_them():
    # Within each batch the apprentices (a) fail twice as often; pooled they look better.
    strata = [Stratum(2, 100, 1, 100), Stratum(8, 10, 40, 100)]
    pooled = (2 + 8) / 110 - (1 + 40) / 200
    assert pooled < 0
    assert mantel_haenszel(strata).risk_difference.value > 0


@pytest.mark.parametrize(
    ("batches_", "a_stoves", "b_stoves"), [(10, 3, 12), (4, 1, 1), (3, 20, 40)]
)
def test_difference_interval_covers_as_promised_with_few_stoves_a_batch(
    batches_, a_stoves, b_stoves
):
    rng, hits = np.random.default_rng(1), []
    for _ in range(400):
        usual = rng.uniform(0.05, 0.3, batches_)
        a, b = rng.binomial(a_stoves, usual + 0.15).tolist(), rng.binomial(b_stoves, usual).tolist()
        rows = [Stratum(x, a_stoves, y, b_stoves) for x, y in zip(a, b, strict=True)]
        found = mantel_haenszel(rows).risk_difference
        if found is not None:
            hits.append(found.low <= 0.15 <= found.high)
    assert np.mean(hits) >= 0.93


def test_two_stoves_that_differ_prove_nothing():
    found = mantel_haenszel([Stratum(1, 1, 0, 1)]).risk_difference
    assert (found.value, found.low, found.high) == (1, -1, 1)


def test_batches_with_one_group_only_are_left_out():
    both = Stratum(3, 10, 1, 10)
    found = mantel_haenszel([both, Stratum(0, 0, 4, 9), Stratum(2, 5, 0, 0)])
    assert found == mantel_haenszel([both])
    assert found.strata_used == 1


@pytest.mark.parametrize(
    "strata", [[], [Stratum(0, 5, 0, 7)], [Stratum(5, 5, 7, 7)], [Stratum(0, 0, 1, 3)]]
)
def test_no_contrast_gives_no_figure(strata):
    found = mantel_haenszel(strata)
    assert (found.risk_difference, found.risk_ratio, found.odds_ratio, found.p_value) == (None,) * 4


def test_counts_that_cannot_be_are_refused():
    with pytest.raises(BadInput):
        mantel_haenszel([Stratum(3, 2, 0, 1)])
