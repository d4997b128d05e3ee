"""Self-starting CUSUM: scores are normal, run lengths are the published ones,
odd input is refused.
"""

import numpy as np
import pytest
from scipy.stats import kstest, norm, t

from qcapp.errors import BadInput
from qcapp.stats.self_starting import (
    find_drift,
    find_limit,
    min_spread_of,
    run_length,
    score_readings,
    sum_scores,
)


# Source: the usual table of tabular CUSUM run lengths with slack 0.5 (Lucas and Crosier 1982;
# Montgomery, Introduction to Statistical Quality Control), quoted from memory: two-sided 168 and
# 465 without a shift, one-sided 8.38 and 10.4 with a shift of one standard deviation.
@pytest.mark.parametrize(("limit", "two_sided", "shifted"), [(4, 168, 8.38), (5, 465, 10.4)])
def test_run_length_is_the_published_one(limit, two_sided, shifted):
    assert run_length(0.5, limit) / 2 == pytest.approx(two_sided, rel=0.005)
    assert run_length(0.5, limit, 1.0) == pytest.approx(shifted, rel=0.005)


# Source: Hawkins 1993 (memory): slack 0.5 needs 4.77 for a two-sided run of 370.
def test_limit_is_the_published_one():
    assert find_limit(0.5, 370) == pytest.approx(4.77, abs=0.02)


def test_limit_keeps_at_least_the_run_asked_for():
    for run in (100, 2_000, 17_000):
        assert run <= run_length(0.25, find_limit(0.25, run)) / 2 < 1.02 * run


def test_score_is_the_student_tail_by_hand():
    values = [3.0, 5.0, 4.0, 9.0]
    mean, s = 4.0, 1.0
    expected = t.cdf((9 - mean) / (s * np.sqrt(1 + 1 / 3)), 2)
    assert score_readings(values, 0.01)[3] == pytest.approx(norm.ppf(expected))


def test_scores_of_unchanged_readings_are_standard_normal():
    """Whatever the mean and spread: 400 short rows, the scores put together."""
    rng = np.random.default_rng(7)
    scores = [
        s
        for _ in range(400)
        for s in score_readings(rng.normal(1e6, 0.3, 25), 1e-9)[2:]
        if abs(s) < 3
    ]
    assert kstest(scores, "norm").pvalue > 0.01
    assert np.corrcoef(scores[:-1], scores[1:])[0, 1] == pytest.approx(0, abs=0.03)


def test_beginning_is_after_the_last_zero():
    scores = [0.0, 0.0, 1.0, -2.0, 2.0, 2.0, 2.0]
    above, _ = sum_scores(scores, 0.5)
    assert above == (0, 0, 0.5, 0, 1.5, 3.0, 4.5)
    found = find_drift(scores, 0.5, 4.0, 1)
    assert (found.direction, found.began, found.seen) == ("above", 4, 6)
    assert find_drift(scores, 0.5, 4.0, 8) is None and find_drift(scores, 0.5, 9, 1) is None


def test_mirrored_readings_drift_the_other_way():
    values = [100, 101, 99, 100, 101, 99, 100, 100, *[104] * 30]
    up = find_drift(score_readings(values, 0.3), 0.25, 8, 20)
    down = find_drift(score_readings([-value for value in values], 0.3), 0.25, 8, 20)
    assert (up.direction, down.direction) == ("above", "below") and (up.began, up.seen) == (
        down.began,
        down.seen,
    )


def test_one_wild_reading_makes_no_sign():
    rng = np.random.default_rng(3)
    values = list(rng.normal(100, 1, 60))
    values[40] = 900.0
    assert find_drift(score_readings(values, 0.3), 0.25, find_limit(0.25, 1000), 20) is None


def test_equal_readings_and_short_rows_have_no_score():
    assert score_readings([5.0] * 6, min_spread_of(1)) == (0,) * 6
    assert score_readings([5.0], 1) == (0,) and score_readings([], 1) == ()
    assert min_spread_of(1) == pytest.approx(0.2887, abs=1e-4)


@pytest.mark.parametrize(
    "build",
    [
        lambda: score_readings([1.0, float("nan")], 1),
        lambda: score_readings([1.0], 0),
        lambda: run_length(-1, 4),
        lambda: run_length(0.5, 0),
        lambda: find_limit(0, 100),
        lambda: find_limit(0.5, 5),
    ],
)
def test_what_cannot_be_is_refused(build):
    with pytest.raises(BadInput):
        build()
