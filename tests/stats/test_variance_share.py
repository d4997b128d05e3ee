"""Share of the spread between groups: the published example, a trial, edges."""

import numpy as np
import pytest

from qcapp.errors import BadInput
from qcapp.stats.variance_share import find_variance_share

# Shrout and Fleiss 1979, table 2: six targets, four ratings each (ratings and ICC(1,1) = 0.17 from
# memory; its interval -0.13 to 0.72 as printed by common programs, memory; here cut at 0).
RATINGS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def test_share_is_the_published_intraclass_correlation():
    found = find_variance_share(RATINGS)
    assert found.between.value == pytest.approx(0.166, abs=5e-4)
    assert (found.between.low, found.between.high) == pytest.approx((0, 0.723), abs=1e-3)
    assert (found.groups, found.n) == (6, 24)


def test_interval_holds_the_true_share_as_often_as_it_says_with_unequal_groups():
    rng, hits = np.random.default_rng(5), 0
    sizes = [8, 15, 30, 12, 25, 9]
    for _ in range(400):
        groups = [rng.normal(rng.normal(100, 1), 2, size) for size in sizes]
        found = find_variance_share(groups).between
        hits += found.low <= 0.2 <= found.high
    assert 0.92 <= hits / 400 <= 0.98


def test_components_add_up_to_what_was_drawn():
    rng = np.random.default_rng(6)
    found = find_variance_share([rng.normal(rng.normal(0, 3), 1, 20) for _ in range(200)])
    assert found.between_sd == pytest.approx(3, rel=0.1) and found.within_sd == pytest.approx(
        1, rel=0.03
    )


def test_groups_that_do_not_differ_share_nothing():
    found = find_variance_share([[1, 2, 3], [1, 2, 3], [3, 2, 1]])
    assert found.between.value == 0 == found.between.low and found.between.high < 0.9


@pytest.mark.parametrize(
    "groups", [[], [[1, 2]], [[1], [2]], [[1, 2], [float("nan")]], [[3, 3], [3, 3]]]
)
def test_too_little_is_refused(groups):
    with pytest.raises(BadInput):
        find_variance_share(groups)
