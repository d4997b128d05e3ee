"""Association of two groupings, and counts that vary more than independent ones, against scipy and
statsmodels.
"""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, chi2_contingency

from qcapp.errors import BadInput
from qcapp.stats.association import find_association
from qcapp.stats.dispersion import ClusterCounts, find_dispersion, weaken_p, widen_estimate
from qcapp.stats.interval import Estimate


@given(st.lists(st.lists(st.integers(1, 60), min_size=3, max_size=3), min_size=2, max_size=5))
def test_p_is_that_of_scipy(table):
    theirs = chi2_contingency(table, correction=False)
    assert find_association(table).p == pytest.approx(theirs.pvalue)


def test_gap_is_the_largest_difference_of_a_share():
    found = find_association([[90, 10], [20, 180], [0, 0]])
    assert found.gaps == pytest.approx((0.9 - 0.1, 0.9 - 0.1, 0.0)) and found.p < 1e-9


@pytest.mark.parametrize("table", [[[5, 3]], [[5, 0], [7, 0]], [[0, 0], [4, 5]], [], [[], []]])
def test_one_of_either_kind_has_no_association(table):
    assert find_association(table) is None


@pytest.mark.parametrize("table", [[[1, 2], [3]], [[1, -1], [2, 2]]])
def test_table_that_is_none_is_refused(table):
    with pytest.raises(BadInput):
        find_association(table)


def test_dispersion_is_pearsons_over_the_degrees_of_freedom():
    # Binomial counts of ten steps, one group: statsmodels' Pearson chi-square over n - 1.
    counts = np.random.default_rng(4).binomial(10, np.random.default_rng(5).beta(2, 8, 60))
    rate = counts.mean() / 10
    group = ClusterCounts(
        60, int(counts.sum()), int((counts**2).sum()), float(10 * rate * (1 - rate))
    )
    fit = sm.GLM(
        np.stack([counts, 10 - counts], 1), np.ones((60, 1)), family=sm.families.Binomial()
    ).fit()
    assert find_dispersion([group]) == pytest.approx(fit.pearson_chi2 / fit.df_resid)


def test_dispersion_is_one_where_nothing_shows_more():
    assert find_dispersion([]) == find_dispersion([ClusterCounts(1, 1, 1, 0.5)]) == 1
    assert find_dispersion([ClusterCounts(10, 10, 10, 0.9)]) == 1


def test_dispersion_widens_and_weakens():
    assert widen_estimate(Estimate(0.1, 0.0, 0.3, 0.95), 4).high == pytest.approx(0.5)
    assert weaken_p(chi2.sf(8, 1), 2) == pytest.approx(chi2.sf(4, 1))
