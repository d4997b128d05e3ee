"""The product of independent rates: what it must be in limiting cases, and how often it holds."""

import numpy as np
import pytest

from qcapp.errors import BadInput
from qcapp.stats.proportion import multiply_rates, wilson_interval


def test_one_rate_alone_has_wilsons_interval():
    found, wilson = multiply_rates([(52, 60)]), wilson_interval(52, 60)
    assert found.value == 52 / 60
    assert (found.low, found.high) == pytest.approx((wilson.low, wilson.high))


def test_a_stage_where_all_are_good_widens_downwards_only():
    alone, beside = multiply_rates([(52, 60)]), multiply_rates([(52, 60), (40, 40)])
    assert beside.value == alone.value and beside.high == pytest.approx(alone.high)
    assert beside.low < alone.low


def test_nothing_good_is_no_certainty():
    found = multiply_rates([(0, 20), (18, 20)])
    assert (found.value, found.low) == (0, 0) and found.high == wilson_interval(0, 20).high


def test_large_counts_come_to_the_delta_method():
    """Variance of log(p1 p2) is the sum of (1 - p) / (n p), by the usual large-sample argument
    (Casella and Berger 2002, Statistical Inference, 5.5.4)."""
    counts = [(90_000, 100_000), (80_000, 100_000)]
    error = np.sqrt(sum((1 - g / n) / g for g, n in counts))
    found = multiply_rates(counts)
    assert found.value == pytest.approx(0.72)
    ends = 0.72 * np.exp(np.array([-1.96, 1.96]) * error)
    assert (found.low, found.high) == pytest.approx(tuple(ends), abs=2e-5)


@pytest.mark.parametrize(
    ("rates", "sizes"), [((0.93, 0.88), (74, 400)), ((0.97, 0.9, 0.95), (30, 60, 45))]
)
def test_the_interval_holds_the_product_about_as_often_as_it_says(rates, sizes):
    rng = np.random.default_rng(5)
    drawn = [rng.binomial(n, p, 1500) for p, n in zip(rates, sizes, strict=True)]
    found = [
        multiply_rates([(int(good), n) for good, n in zip(one, sizes, strict=True)])
        for one in zip(*drawn, strict=True)
    ]
    held = np.mean([one.low <= np.prod(rates) <= one.high for one in found])
    assert 0.93 <= held <= 0.98


def test_none_inspected_has_no_rate():
    with pytest.raises(BadInput):
        multiply_rates([(5, 10), (0, 0)])
