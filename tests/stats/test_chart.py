"""Charts: published limits and points, equal forms, small counts, edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, poisson

from qcapp.errors import BadInput
from qcapp.stats.attribute_charts import c_chart, laney_p_chart, laney_u_chart, p_chart, u_chart
from qcapp.stats.chart import D2
from qcapp.stats.variables_charts import D4, ewma_chart, individuals_chart, moving_range_chart
from tests.stats.oracles import load_csv, load_json

PUBLISHED = load_json("control_charts")
WAFERS = [(failed, 50) for failed in PUBLISHED["p_chart_constant_n"]["defectives"]]
series = st.lists(st.integers(0, 60), min_size=2, max_size=20).map(
    lambda failed: [(f, 60) for f in failed]
)


def points_out(chart):
    return [place for place, point in enumerate(chart.points, start=1) if point.is_out]


# Source: the printed table of constants (secondary) and its integrals.
def test_constants_are_those_of_the_printed_table():
    row = load_csv("control_chart_constants")[0]
    assert pytest.approx((float(row["d2"]), float(row["D4"])), abs=1e-8) == (D2, D4)
    assert pytest.approx((float(row["pub_d2"]), float(row["pub_D4"])), abs=6e-4) == (D2, D4)


# Source: NIST/SEMATECH 6.3.3.2, 30 wafers of 50 (secondary).
def test_p_chart_gives_the_published_limits_and_points():
    row, chart = PUBLISHED["p_chart_constant_n"], p_chart(WAFERS)
    assert chart.centre == pytest.approx(row["centre"], abs=5e-5)
    assert (chart.points[0].low, chart.points[0].high) == pytest.approx(
        (row["lcl"], row["ucl"]), abs=5e-5
    )
    assert points_out(chart) == row["out_points"]


# Laney 2002: with equal numbers his chart is the individuals chart of the rates.
@given(series)
def test_laney_chart_of_equal_numbers_is_the_individuals_chart_of_the_rates(counts):
    chart, single = laney_p_chart(counts), individuals_chart([f / n for f, n in counts])
    assert chart.centre == pytest.approx(single.centre)
    assert chart.sigmas == pytest.approx(single.sigmas, abs=1e-6)
    if 5 <= 60 * chart.centre <= 55 and single.spread > 0:
        low, high = single.points[0].low, single.points[0].high
        assert chart.points[0].low == pytest.approx(max(0, low))
        assert chart.points[0].high == pytest.approx(min(1, high))


def test_laney_factor_shows_batches_that_differ_more_than_chance():
    rng = np.random.default_rng(2)
    rates = rng.beta(20, 80, 300)
    uneven = [(failed, 500) for failed in rng.binomial(500, rates).tolist()]
    even = [(failed, 500) for failed in rng.binomial(500, 0.2, 300).tolist()]
    assert laney_p_chart(even).spread == pytest.approx(1, abs=0.1)
    assert laney_p_chart(uneven).spread > 2
    assert len(points_out(p_chart(uneven))) > 20 > len(points_out(laney_p_chart(uneven)))


@pytest.mark.parametrize(
    ("inspected", "centre"),
    [(4, 0.25), (5, 0.2), (10, 0.05), (20, 0.1), (40, 0.1), (50, 0.96), (9, 0.5)],
)
def test_small_batches_call_out_a_good_one_no_more_than_promised(inspected, centre):
    # 200 batches that together have exactly the centre's rate; the limits are then those of one
    # batch.
    failed = round(centre * inspected * 200)
    counts = [(failed // 200 + (i < failed % 200), inspected) for i in range(200)]
    chart = p_chart(counts)
    assert chart.centre == pytest.approx(centre)
    point = chart.points[0]
    above = binom.sf(round(point.high * inspected), inspected, centre)
    below = binom.cdf(round(point.low * inspected) - 1, inspected, centre)
    assert above <= 0.00135
    assert below <= 0.00135


def test_batch_without_a_failure_is_not_out_at_a_low_rate():
    assert points_out(p_chart([(0, 10), (1, 10), (0, 10), (1, 10), (0, 12), (1, 9)])) == []


def test_limits_follow_the_number_inspected():
    few, many = p_chart([(10, 50), (100, 500)]).points
    assert few.low < many.low < 0.2 < many.high < few.high


@pytest.mark.parametrize("counts", [[(0, 5), (0, 9)], [(5, 5), (9, 9)]])
@pytest.mark.parametrize("chart", [p_chart, laney_p_chart])
def test_chart_without_any_scatter_calls_nothing_out(chart, counts):
    assert points_out(chart(counts)) == []


# Source: NIST/SEMATECH 6.3.3.1, defects on 25 wafers (secondary). Wafer 3 lies on the limit.
def test_c_chart_gives_the_published_limits_and_points():
    row = PUBLISHED["c_chart"]
    chart = c_chart(row["counts"])
    point = chart.points[0]
    assert (chart.centre, point.low, point.high) == (row["centre"], row["lcl"], row["ucl"])
    assert points_out(chart) == row["out_points"]


def test_u_chart_of_batches_of_one_size_is_the_c_chart_by_unit():
    counts = PUBLISHED["c_chart"]["counts"]
    by_unit = u_chart([(count, 4) for count in counts])
    for one, whole in zip(by_unit.points, c_chart(counts).points, strict=True):
        assert (4 * one.value, 4 * one.low, 4 * one.high) == pytest.approx(
            (whole.value, whole.low, whole.high)
        )


# The textbook's formula: centre and three times its root over the units.
def test_u_chart_has_limits_of_its_own_for_each_number_of_units():
    few, many = u_chart([(20, 20), (50, 50)]).points
    assert (few.low, few.high) == pytest.approx((1 - 3 / 20**0.5, 1 + 3 / 20**0.5))
    assert (many.low, many.high) == pytest.approx((1 - 3 / 50**0.5, 1 + 3 / 50**0.5))


@pytest.mark.parametrize("mean", [0.05, 0.4, 1.0, 3.0, 4.9])
def test_small_counts_call_out_a_good_unit_no_more_than_promised(mean):
    counts = [round(mean * 200) // 200 + (i < round(mean * 200) % 200) for i in range(200)]
    chart = c_chart(counts)
    assert chart.centre == pytest.approx(mean)
    point = chart.points[0]
    assert poisson.sf(round(point.high), mean) <= 0.00135
    assert poisson.cdf(round(point.low) - 1, mean) <= 0.00135


# Laney 2002: with equal units his chart is the individuals chart of the rates.
@given(st.lists(st.integers(5, 60), min_size=3, max_size=12))
def test_laney_u_chart_of_equal_units_is_the_individuals_chart(counts):
    chart, single = laney_u_chart([(count, 1) for count in counts]), individuals_chart(counts)
    assert chart.centre == pytest.approx(single.centre)
    assert chart.sigmas == pytest.approx(single.sigmas, abs=1e-6)


def test_laney_factor_of_counts_shows_batches_that_differ_more_than_chance():
    rng = np.random.default_rng(3)
    even = [(int(n), 60) for n in rng.poisson(60 * 0.4, 300)]
    uneven = [(int(n), 60) for n in rng.poisson(60 * rng.gamma(4, 0.1, 300))]
    assert laney_u_chart(even).spread == pytest.approx(1, abs=0.1)
    assert laney_u_chart(uneven).spread > 1.8
    assert len(points_out(u_chart(uneven))) > 20 > len(points_out(laney_u_chart(uneven)))


def test_chart_without_a_fault_calls_nothing_out():
    assert (
        points_out(u_chart([(0, 5), (0, 9)])) == points_out(laney_u_chart([(0, 5), (0, 9)])) == []
    )


# Source: NIST/SEMATECH 6.3.2.2 (secondary). Printed with d2 = 1.128; the exact d2 moves the limits
# by 0.0017.
def test_individuals_chart_gives_the_published_limits():
    row = PUBLISHED["individuals"]
    chart, ranges = individuals_chart(row["x"]), moving_range_chart(row["x"])
    assert chart.centre == pytest.approx(row["mean"])
    assert ranges.centre == pytest.approx(row["mr_bar"], abs=5e-5)
    assert (chart.points[0].low, chart.points[0].high) == pytest.approx(
        (row["lcl"], row["ucl"]), abs=2e-3
    )
    assert ranges.points[0].high == pytest.approx(row["mr_ucl_recomputed_D4_3.267"], abs=2e-3)
    assert points_out(chart) == row["out_points"]
    assert len(ranges.points) == len(row["x"]) - 1


# Source: NIST/SEMATECH 6.3.2.4 (secondary); limits printed for the steady state, the lower one cut.
def test_ewma_chart_gives_the_published_means_and_steady_limits():
    row = PUBLISHED["ewma"]
    chart = ewma_chart(row["x"], row["start"], row["s"], row["lambda"], row["k"])
    # The printed column has two places, and one entry of it (50.73) is half a unit off.
    assert [p.value for p in chart.points] == pytest.approx(row["ewma"], abs=0.0101)
    assert chart.points[-1].high == pytest.approx(row["ucl"], abs=2e-3)
    assert chart.points[-1].low == pytest.approx(row["lcl"], abs=2e-3)
    assert points_out(chart) == row["out_points"]


def test_ewma_limits_start_at_the_weight_of_one_reading():
    first = ewma_chart([50.0], 50, 2, 0.3).points[0]
    assert (first.low, first.high) == pytest.approx((50 - 3 * 0.3 * 2, 50 + 3 * 0.3 * 2))


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=15))
def test_turning_readings_upside_down_mirrors_the_chart(values):
    one, other = individuals_chart(values), individuals_chart([-v for v in values])
    assert [p.low for p in one.points] == pytest.approx([-p.high for p in other.points])
    assert points_out(one) == points_out(other)


@pytest.mark.parametrize(
    "build",
    [
        lambda: p_chart([]),
        lambda: p_chart([(0, 0)]),
        lambda: laney_p_chart([(1, 5)]),
        lambda: individuals_chart([1.0]),
        lambda: moving_range_chart([1.0, float("nan")]),
        lambda: ewma_chart([], 0, 1),
        lambda: c_chart([]),
        lambda: c_chart([-1]),
        lambda: u_chart([(1, 0)]),
        lambda: laney_u_chart([(1, 5)]),
        lambda: ewma_chart([1.0], 0, 0),
        lambda: ewma_chart([1.0], 0, 1, weight=1.5),
        lambda: ewma_chart([1.0], 0, 1, width=0),
    ],
)
def test_series_without_a_chart_is_refused(build):
    with pytest.raises(BadInput):
        build()
