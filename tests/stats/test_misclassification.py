"""Shares missed and falsely failed, corrected rates: published figure, coverage, edges."""

import numpy as np
import pytest

from qcapp.errors import BadInput
from qcapp.stats import misclassification
from qcapp.stats.misclassification import (
    FEWEST,
    LookPair,
    _find_look_errors,
    correct_rate,
    find_look_errors,
    rogan_gladen,
)
from qcapp.stats.seeded_draws import start_draws


# Source: the worked example of epi.prev in the R package epiR (secondary): 23 of 150 cattle react
# to a test with sensitivity 0.96 and specificity 0.89. Its answer, 5.1 in a hundred, from memory.
def test_corrected_rate_is_the_published_one():
    assert rogan_gladen(23 / 150, 0.96, 0.89) == pytest.approx(0.051, abs=5e-4)


def test_perfect_looks_change_nothing():
    errors = find_look_errors([LookPair(20, 0, 0, 0)] * 20 + [LookPair(0, 0, 0, 20)] * 80)
    found = correct_rate(50, 500, errors)
    assert (errors.missed_share.value, errors.false_share.value) == (0, 0)
    assert found.value == pytest.approx(0.1)
    # No fault missed in 400 does not show that none ever is.
    assert errors.missed_share.low == 0 < errors.missed_share.high
    assert found.low < 0.1 < found.high


def test_what_is_missed_raises_the_rate_and_false_alarms_lower_it():
    half_missed = find_look_errors([LookPair(1, 1, 0, 0)] * 30 + [LookPair(0, 0, 0, 2)] * 200)
    assert correct_rate(50, 1000, half_missed).value == pytest.approx(0.1)
    alarms = find_look_errors([LookPair(2, 0, 0, 0)] * 30 + [LookPair(0, 0, 1, 49)] * 40)
    assert correct_rate(50, 1000, alarms).value == pytest.approx((0.05 - 0.02) / 0.98)


def test_the_same_counts_are_drawn_once_and_other_stoves_anew(monkeypatch):
    drawn = []

    def start(stream=0):
        drawn.append(stream)
        return start_draws(stream)

    monkeypatch.setattr(misclassification, "start_draws", start)
    # Equal sums; in the second the misses fell together on a few stoves.
    apart = [LookPair(1, 1, 0, 8)] * 20 + [LookPair(0, 0, 1, 9)] * 20
    together = (
        [LookPair(2, 0, 0, 8)] * 10 + [LookPair(0, 2, 0, 8)] * 10 + [LookPair(0, 0, 1, 9)] * 20
    )
    _find_look_errors.cache_clear()
    first = correct_rate(31, 700, find_look_errors(apart))
    assert drawn == [0, 1]
    assert correct_rate(31, 700, find_look_errors(list(apart))) == first and drawn == [0, 1]
    other = correct_rate(31, 700, find_look_errors(together))
    assert drawn == [0, 1, 0, 1] and other.value == first.value and other != first
    assert correct_rate(32, 700, find_look_errors(apart)) != first
    assert correct_rate(31, 700, find_look_errors(apart), dispersion=2.0) != first
    assert correct_rate(31, 700, find_look_errors(apart), 0.9) != first
    assert drawn == [0, 1, 0, 1, 1, 1, 1]
    _find_look_errors.cache_clear()
    assert correct_rate(31, 700, find_look_errors(apart)) == first
    assert drawn == [0, 1, 0, 1, 1, 1, 1, 0, 1]
    assert correct_rate(31, 700, find_look_errors([])) is None


def draw_yard(rng, rate, seen, *, stoves=500, again=60, steps=10, common=0.0):
    """Pairs of looks and first looks of all; seen: (missed, falsely failed); common: how much the
    steps of one stove fail together.
    """
    own = (
        rng.beta(rate * (1 / common - 1), (1 - rate) * (1 / common - 1), stoves)[:, None]
        if common
        else np.full((stoves, 1), rate)
    )
    true = rng.random((stoves, steps)) < own
    first = np.where(
        true, rng.random((stoves, steps)) >= seen[0], rng.random((stoves, steps)) < seen[1]
    )
    pairs = [
        LookPair(int((t & f).sum()), int((t & ~f).sum()), int((~t & f).sum()), int((~t & ~f).sum()))
        for t, f in zip(true[:again], first[:again], strict=True)
    ]
    return pairs, first


# The table of these shares is in tests/reports/PROMISES.md.
@pytest.mark.parametrize(
    ("rate", "seen", "common"),
    [(0.05, (0.2, 0.01), 0), (0.1, (0.1, 0.02), 0), (0.1, (0.4, 0.02), 0.2)],
)
def test_intervals_hold_as_promised(rate, seen, common):
    rng, hits = np.random.default_rng(2), []
    for _ in range(150):
        pairs, first = draw_yard(rng, rate, seen, common=common)
        errors = find_look_errors(pairs)
        by_stove = first.sum(1)
        expected = first.shape[1] * first.mean() * (1 - first.mean())
        found = correct_rate(
            int(first.sum()), first.size, errors, dispersion=max(1, by_stove.var() / expected)
        )
        if found is not None:
            hits.append(
                (
                    found.low <= rate <= found.high,
                    errors.missed_share.low <= seen[0] <= errors.missed_share.high,
                    errors.false_share.low <= seen[1] <= errors.false_share.high,
                )
            )
    assert len(hits) > 130 and np.mean(hits, axis=0).min() >= 0.88


def test_few_second_looks_correct_nothing():
    errors = find_look_errors([LookPair(1, 0, 0, 9)] * (FEWEST - 1))
    assert not errors.is_enough and correct_rate(5, 100, errors) is None
    none = find_look_errors([])
    assert (none.stoves, none.missed_share, none.false_share) == (0, None, None)
    assert correct_rate(5, 100, none) is None


def test_looks_that_say_no_more_than_chance_correct_nothing():
    errors = find_look_errors([LookPair(1, 1, 1, 1)] * 30)
    assert errors.is_enough and correct_rate(50, 100, errors) is None


def test_rate_at_the_false_alarms_may_be_none_at_all():
    errors = find_look_errors([LookPair(2, 0, 0, 0)] * 20 + [LookPair(0, 0, 2, 18)] * 20)
    found = correct_rate(9, 100, errors)
    assert found.value == found.low == 0 < found.high


def test_second_looks_that_contradict_the_rate_correct_nothing():
    # One in ten falsely failed, but of all stoves only one in a hundred failed.
    errors = find_look_errors([LookPair(2, 0, 0, 0)] * 20 + [LookPair(0, 0, 2, 18)] * 20)
    assert correct_rate(10, 1000, errors) is None


def test_what_cannot_be_is_refused():
    with pytest.raises(BadInput):
        find_look_errors([LookPair(1, -1, 0, 0)])
    errors = find_look_errors([LookPair(1, 0, 0, 1)] * 20)
    for failed, inspected, level in ((3, 2, 0.95), (0, 0, 0.95), (1, 2, 1)):
        with pytest.raises(BadInput):
            correct_rate(failed, inspected, errors, level)
