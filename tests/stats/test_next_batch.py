"""The next batch by those before: the t interval's own figures, and how often it is missed."""

import numpy as np
import pytest
from scipy.stats import t

from qcapp.errors import BadInput
from qcapp.stats.next_batch import predict_rate


# Hahn and Meeker's interval for one further observation, mean +/- t(k - 1) s sqrt(1 + 1/k), worked
# with scipy's t and numpy's standard deviation; batches of one size that differ much.
def test_batches_of_one_size_give_the_textbooks_interval():
    counts = [(100, 1000), (300, 1000), (250, 1000), (420, 1000), (180, 1000)]
    rates = np.array([count / 1000 for count, _ in counts])
    half = t.ppf(0.975, 4) * rates.std(ddof=1) * np.sqrt(1 + 1 / 5)
    found = predict_rate(counts, 1000)
    assert (found.low, found.high) == pytest.approx(
        (max(0, rates.mean() - half), rates.mean() + half), abs=2e-3
    )


@pytest.mark.parametrize("batches", [3, 5, 8, 20])
@pytest.mark.parametrize("spread", [0, 0.01, 0.03])
def test_batch_made_as_those_before_is_left_out_no_more_often_than_promised(batches, spread):
    """spread: share of the variance of a stove that lies between batches (a beta's)."""
    rng, missed, runs, rate = np.random.default_rng(11), 0, 1000, 0.35
    for _ in range(runs):
        shape = (1 / spread - 1) if spread else None
        rates = (
            rng.beta(rate * shape, (1 - rate) * shape, batches + 1)
            if shape
            else np.full(batches + 1, rate)
        )
        sizes = rng.integers(40, 90, batches + 1)
        found = rng.binomial(sizes, rates)
        *before, (count, of) = zip(found.tolist(), sizes.tolist(), strict=True)
        interval = predict_rate(before, of)
        missed += not interval.low <= count / of <= interval.high
    assert missed / runs <= 0.06


def test_batches_without_a_fault_leave_room():
    found = predict_rate([(60, 60), (70, 70), (65, 65)], 60)
    assert found.high == 1 and 0.85 < found.low < 1


@pytest.mark.parametrize(
    ("counts", "n"), [([(1, 5), (2, 5)], 5), ([(1, 5), (2, 5), (6, 5)], 5), ([(1, 5)] * 3, 0)]
)
def test_counts_that_cannot_be_are_refused(counts, n):
    with pytest.raises(BadInput):
        predict_rate(counts, n)
