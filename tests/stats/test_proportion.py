"""The interval of one rate: published values, scipy, edges, symmetry."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from qcapp.errors import BadInput
from qcapp.stats.proportion import (
    wilson_interval,
)
from tests.stats.oracles import load_json

PUBLISHED = load_json("proportions")
counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
levels = st.floats(0.5, 0.999)


# Source: Newcombe 1998, Table I, method 3 (secondary).
@pytest.mark.parametrize("row", PUBLISHED["wilson"], ids=lambda row: f"{row['x']}-of-{row['n']}")
def test_wilson_gives_newcombes_printed_limits(row):
    found = wilson_interval(row["x"], row["n"], row["level"])
    assert (found.low, found.high) == pytest.approx((row["lo"], row["hi"]), abs=5e-5)


# Source: NIST/SEMATECH e-Handbook 7.2.4.1 (primary); it uses z = 1.645, so the fifth place is open.
def test_one_sided_wilson_limit_is_the_lower_end_at_twice_the_risk():
    row = PUBLISHED["wilson_one_sided_lower"]
    assert wilson_interval(row["x"], row["n"], 1 - 2 * row["alpha"]).low == pytest.approx(
        row["lo"], abs=2e-5
    )


@given(counts, levels)
def test_wilson_agrees_with_scipy(pair, level):
    found, theirs = (
        wilson_interval(*pair, level),
        binomtest(*pair).proportion_ci(level, method="wilson"),
    )
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-10)


@given(pair=counts, level=levels)
def test_swapping_failed_and_passed_mirrors_the_interval(pair, level):
    failed, inspected = pair
    one, other = (
        wilson_interval(failed, inspected, level),
        wilson_interval(inspected - failed, inspected, level),
    )
    assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-9)


@pytest.mark.parametrize("inspected", [1, 7, 1_000_000])
def test_none_failed_starts_at_zero_and_all_failed_ends_at_one(inspected):
    none, every = wilson_interval(0, inspected), wilson_interval(inspected, inspected)
    assert (none.low, every.high) == (0, 1)
    assert 0 < none.high < 1
    assert 0 < every.low < 1


@pytest.mark.parametrize(("failed", "inspected"), [(0, 0), (3, 2), (-1, 4), (1.5, 4)])
def test_counts_that_cannot_be_are_refused(failed, inspected):
    with pytest.raises(BadInput):
        wilson_interval(failed, inspected)


@pytest.mark.parametrize("level", [0, 1, 95, -0.1])
def test_level_outside_zero_to_one_is_refused(level):
    with pytest.raises(BadInput) as refusal:
        wilson_interval(1, 4, level)
    assert refusal.value.where == "level"
