"""Capability against published figures, statsmodels, coverage and edges."""

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.diagnostic import normal_ad

from qcapp.errors import BadInput
from qcapp.stats.capability import (
    find_percentile_ppk,
    measure_capability,
    normal_places,
    normality_p,
    part_ties,
    spread_interval,
)
from qcapp.stats.capability_index import nearer_index, width_index
from qcapp.stats.within_capability import measure_within
from tests.stats.oracles import load_json

PUBLISHED = load_json("capability")
INDIVIDUALS = load_json("control_charts")["individuals"]


def readings_with(mean, s, n=101):
    shape = norm.ppf((np.arange(n) + 0.5) / n)
    return (mean + s * (shape - shape.mean()) / shape.std(ddof=1)).tolist()


# Source: NIST/SEMATECH 6.1.6 (secondary).
def test_indices_are_those_of_the_handbook():
    row = PUBLISHED["nist_example"]
    found = measure_capability(readings_with(row["mean"], row["s"]), row["lsl"], row["usl"])
    assert found.pp.value == pytest.approx(row["cp"])
    assert found.ppk.value == pytest.approx(row["cpk"], abs=5e-5)
    assert found.threatened == "upper"
    assert found.share_above == pytest.approx(norm.sf(2))
    assert found.share_below == pytest.approx(norm.sf(4))


# Source: Bissell 1990 (formula secondary). The figures were recomputed; the first row with 0.667
# for 0.6667.
@pytest.mark.parametrize(
    "row", PUBLISHED["cpk_interval"]["examples_recomputed"], ids=lambda row: f"n{row['n']}"
)
def test_cpk_interval_is_bissells(row):
    found = nearer_index(row["cpk"], row["n"], row["n"] - 1, row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=6e-5)


# Source: Montgomery (memory), two places.
def test_cp_interval_is_the_printed_one():
    row = PUBLISHED["cp_interval"]
    found = width_index((row["usl"] - row["lsl"]) / (6 * row["s"]), row["n"] - 1, 0.95)
    assert (found.value, found.low, found.high) == pytest.approx(
        (row["cp"], row["lo"], row["hi"]), abs=0.006
    )


def test_intervals_cover_as_promised():
    rng, pp_hits, ppk_hits = np.random.default_rng(7), [], []
    for _ in range(600):
        found = measure_capability(rng.normal(1, 1, 40), -3, 4.5)
        pp_hits.append(found.pp.low <= 7.5 / 6 <= found.pp.high)
        ppk_hits.append(found.ppk.low <= 3.5 / 3 <= found.ppk.high)
    assert np.mean(pp_hits) == pytest.approx(0.95, abs=0.03)
    assert np.mean(ppk_hits) == pytest.approx(0.95, abs=0.03)


def test_one_limit_has_a_ppk_and_no_pp():
    found = measure_capability(readings_with(16, 2), None, 20)
    assert found.pp is None
    assert found.ppk.value == pytest.approx(2 / 3)
    assert found.share_below == 0


def test_mirrored_readings_have_the_same_indices():
    given = readings_with(16, 2)
    one, other = measure_capability(given, 8, 20), measure_capability([-x for x in given], -20, -8)
    assert one.ppk == pytest.approx(other.ppk) or one.ppk.value == pytest.approx(other.ppk.value)
    assert (one.threatened, other.threatened) == ("upper", "lower")


def test_reading_on_the_limit_is_inside():
    found = measure_capability([97, 98, 103, 104, 96], 97, 103)
    assert (found.below, found.above) == (1, 1)


def test_equal_readings_have_no_index():
    found = measure_capability([5, 5, 5], 0, 4)
    assert (found.pp, found.ppk) == (None, None)
    assert (found.share_below, found.share_above) == (0, 1)


def test_percentile_ppk_of_normal_readings_is_the_plain_one():
    given = readings_with(16, 2, 20_000)
    assert find_percentile_ppk(given, 8, 20) == pytest.approx(2 / 3, abs=0.01)


def test_percentile_ppk_sees_the_long_tail_that_the_plain_one_misses():
    given = np.random.default_rng(1).exponential(1, 5000)
    assert find_percentile_ppk(given, None, 4) < measure_capability(given, None, 4).ppk.value


def test_few_readings_have_no_percentile_ppk():
    assert find_percentile_ppk(readings_with(16, 2, 99), 8, 20) is None


@pytest.mark.parametrize(("seed", "n"), [(1, 8), (2, 30), (3, 200), (4, 5000)])
def test_normality_p_agrees_with_statsmodels(seed, n):
    rng = np.random.default_rng(seed)
    for given in (rng.normal(size=n), rng.exponential(size=n), rng.uniform(size=n)):
        theirs = normal_ad(given)[1]
        assert normality_p(given) == pytest.approx(theirs, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("readings", "lower", "upper"),
    [([1], 0, 2), ([1, 2], None, None), ([1, 2], 3, 1), ([1, float("nan")], 0, 2)],
)
def test_readings_or_limits_that_cannot_serve_are_refused(readings, lower, upper):
    with pytest.raises(BadInput):
        measure_capability(readings, lower, upper)


@pytest.mark.parametrize("readings", [[1, 2, 3], [4.0] * 10])
def test_normality_of_too_little_is_refused(readings):
    with pytest.raises(BadInput):
        normality_p(readings)


def test_parted_ties_no_longer_look_lumpy_but_two_humps_still_do():
    rng = np.random.default_rng(2)
    rounded = [np.round(rng.normal(100.3, 1.2, 200)) for _ in range(60)]
    assert sum(normality_p(values) < 0.01 for values in rounded) > 50
    assert sum(normality_p(part_ties(values, 1)) < 0.01 for values in rounded) <= 2
    humps = np.round(np.concatenate([rng.normal(98, 1, 100), rng.normal(103, 1, 100)]))
    assert normality_p(part_ties(humps, 1)) < 0.001


def test_parted_ties_lie_evenly_over_their_step():
    assert part_ties([5, 5, 7], 1) == (4.75, 5.25, 7.0)


# Chi-square by hand: n 20, s 1.75 (as the Cp example): 1.75 sqrt(19 / 32.852), 1.75 sqrt(19 /
# 8.907).
def test_interval_of_the_spread_is_the_chi_square_one():
    found = spread_interval(1.75, 20)
    assert (found.low, found.high) == pytest.approx((1.331, 2.556), abs=1e-3)


def test_normal_places_are_blom_s_and_symmetric():
    places = normal_places(5)
    assert places[0] == pytest.approx(norm.ppf(0.625 / 5.25)) and places[2] == pytest.approx(0)
    assert places[0] == pytest.approx(-places[4])


# Source: NIST/SEMATECH e-Handbook 6.3.2.2, flow rates (secondary): mean moving range over 1.128.
def test_within_spread_is_that_of_the_published_individuals_chart():
    found = measure_within(INDIVIDUALS["x"], 40, 60)
    s = INDIVIDUALS["mr_bar"] / 1.128
    assert found.is_stable and found.s == pytest.approx(s, rel=1e-3)
    assert found.cp.value == pytest.approx(20 / (6 * s), rel=1e-3)
    nearer = min(INDIVIDUALS["mean"] - 40, 60 - INDIVIDUALS["mean"])
    assert found.cpk.value == pytest.approx(nearer / (3 * s), rel=1e-3)


def draw_batch(rng, n=60, *, drift=0.0, step=0.0):
    """Readings of one standard deviation whose mean moves so far from the first to the last."""
    return (
        rng.normal(0, 1, n) + np.linspace(-drift / 2, drift / 2, n) + step * (np.arange(n) > n // 2)
    )


# The table of these shares is in tests/reports/PROMISES.md.
@pytest.mark.parametrize("n", [30, 120, 400])
def test_stable_making_is_seldom_called_unstable(n):
    rng = np.random.default_rng(2)
    found = [measure_within(draw_batch(rng, n), -4, 4).is_stable for _ in range(400)]
    assert np.mean(found) >= 0.92


@pytest.mark.parametrize(("drift", "step"), [(3, 0), (0, 2)])
def test_batch_that_drifts_has_no_capability(drift, step):
    rng = np.random.default_rng(2)
    found = [measure_within(draw_batch(rng, drift=drift, step=step), -4, 4) for _ in range(200)]
    assert np.mean([not one.is_stable for one in found]) >= 0.85
    assert all(one.is_stable or (one.cp is None and one.cpk is None) for one in found)


def test_reading_that_stands_out_is_a_signal():
    rng = np.random.default_rng(4)
    values = rng.normal(0, 1, 60)
    values[40] = 8
    found = measure_within(values, -4, 4)
    assert found.signals == (40,) and found.cpk is None


def test_drift_is_in_the_performance_and_would_flatter_a_capability():
    rng = np.random.default_rng(3)
    drifting = draw_batch(rng, n=200, drift=6)
    found = measure_capability(drifting, -4, 4)
    assert found.pp.value < 0.75 < 8 / (6 * measure_within(drifting, -4, 4).s)


def test_intervals_of_a_stable_making_cover_as_promised():
    rng, hits = np.random.default_rng(5), []
    for _ in range(600):
        found = measure_within(rng.normal(1, 1, 60), -3, 4.5)
        if found.is_stable:
            hits.append(
                (
                    found.cp.low <= 7.5 / 6 <= found.cp.high,
                    found.cpk.low <= 3.5 / 3 <= found.cpk.high,
                )
            )
    assert np.mean(hits, axis=0) == pytest.approx([0.95, 0.95], abs=0.03)


def test_readings_that_do_not_differ_from_one_to_the_next_have_no_index():
    found = measure_within([5.0] * 30, 0, 10)
    assert (found.is_stable, found.cp, found.cpk) == (True, None, None)
