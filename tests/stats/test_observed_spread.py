"""Spread of the true values: keeps mean and variance, finds the risks of a trial,
refuses nothing left.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from qcapp.errors import BadInput
from qcapp.stats.observed_spread import find_observed_spread
from qcapp.stats.uncertainty import Limits, verdict_risks


def draw(seed=1, n=3000, u=0.4):
    rng = np.random.default_rng(seed)
    true = np.concatenate([rng.normal(99.5, 0.7, n // 2), rng.normal(101.8, 0.9, n - n // 2)])
    return true, true + rng.normal(0, u, n)


def test_mean_and_variance_are_the_readings_less_measuring():
    _true, read = draw()
    spread = find_observed_spread(read, 0.4)
    ends = (spread.ppf(0.0), spread.ppf(1.0))
    mass, mean = (
        quad(spread.pdf, *ends, limit=200)[0],
        quad(lambda x: x * spread.pdf(x), *ends, limit=200)[0],
    )
    variance = quad(lambda x: (x - mean) ** 2 * spread.pdf(x), *ends, limit=200)[0]
    assert mass == pytest.approx(1, abs=1e-6) and mean == pytest.approx(read.mean(), abs=1e-6)
    assert variance == pytest.approx(read.var(ddof=1) - 0.16, rel=2e-3)


def test_risks_are_those_of_a_two_humped_trial():
    """True values that no normal spread describes; wrongly passed and failed counted one by one."""
    true, read = draw(n=400_000)
    is_good, is_passed = abs(true - 100) <= 3, abs(read - 100) <= 3
    found = verdict_risks(
        find_observed_spread(read[::200], 0.4), Limits(97, 103), Limits(97, 103), 0.8
    )
    assert found.wrongly_passed == pytest.approx((~is_good & is_passed).mean(), abs=4e-3)
    assert found.wrongly_failed == pytest.approx((is_good & ~is_passed).mean(), abs=8e-3)
    assert found.outside == pytest.approx((~is_good).mean(), abs=8e-3)


def test_moved_spread_has_its_new_middle_and_width():
    spread = find_observed_spread([1.0, 2.0, 2.0, 4.0], 0.1)
    moved = spread.move(3, 2)
    assert moved.pdf(2.25 + 3) == pytest.approx(spread.pdf(2.25) / 2)


@pytest.mark.parametrize(
    ("readings", "sd"),
    [([1.0], 0.1), ([2.0, 2.0], 0.1), ([1.0, 2.0], 3), ([1.0, float("inf")], 0.1)],
)
def test_nothing_to_work_with_is_refused(readings, sd):
    with pytest.raises(BadInput):
        find_observed_spread(readings, sd)
