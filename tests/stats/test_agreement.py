"""Kappa against published tables, statsmodels and edges."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as their_fleiss

from qcapp.errors import BadInput
from qcapp.stats.agreement import cohen_kappa, fleiss_kappa, weighted_kappa
from tests.stats.oracles import load_json

PUBLISHED = load_json("agreement")
DIAGNOSES = PUBLISHED["cohen_two_raters"][0]
tables = st.integers(2, 4).flatmap(
    lambda k: st.lists(st.lists(st.integers(0, 20), min_size=k, max_size=k), min_size=k, max_size=k)
)


def fleiss_counts():
    rows = PUBLISHED["fleiss_many_raters"][0]["ratings_codes"]
    return [[row.count(code) for code in "12345"] for row in rows]


# Source: Cohen 1960 (0.492 secondary); Fleiss, Cohen and Everitt 1969 (0.429 memory).
@pytest.mark.parametrize("row", PUBLISHED["cohen_two_raters"], ids=lambda row: row["name"][:12])
def test_kappa_is_the_published_one(row):
    assert cohen_kappa(row["table"]).kappa == pytest.approx(row["kappa"], abs=6e-4)


def test_standard_error_is_the_large_sample_one():
    # 0.0510, not Cohen's simple 0.0549: the reference file names both.
    found = cohen_kappa(DIAGNOSES["table"])
    assert (found.high - found.low) / 2 / 1.959964 == pytest.approx(0.0510, abs=5e-5)


# Source: Cohen 1968 (0.348 and 0.353, secondary).
@pytest.mark.parametrize("row", DIAGNOSES["weighted"], ids=lambda row: str(row["kappa_w"]))
def test_weighted_kappa_is_the_published_one(row):
    found = weighted_kappa(DIAGNOSES["table"], row["disagreement_weights"])
    assert found.kappa == pytest.approx(row["kappa_w"], abs=6e-4)


# Source: Fleiss 1971 (ratings primary, 0.430 memory).
def test_kappa_of_many_inspectors_is_the_published_one():
    found = fleiss_kappa(fleiss_counts())
    assert found.kappa == pytest.approx(0.430, abs=5e-4)
    assert found.low < found.kappa < found.high


@given(tables)
def test_kappa_and_its_error_agree_with_statsmodels(table):
    rows, columns = np.sum(table, 1), np.sum(table, 0)
    assume(np.sum(table) > 0 and np.sum(rows * columns) < np.sum(table) ** 2)
    # Theirs also computes figures that are not compared here, and divides by zero for some tables.
    with np.errstate(all="ignore"):
        theirs = cohens_kappa(np.array(table))
    found = cohen_kappa(table)
    assert found.kappa == pytest.approx(theirs.kappa)
    if found.high < 1 and found.low > -1:
        assert (found.high - found.low) / 2 / 1.959964 == pytest.approx(
            math.sqrt(max(0, theirs.var_kappa)), abs=1e-6
        )


@given(tables)
def test_swapping_the_two_inspectors_changes_nothing(table):
    assume(np.sum(table) > 0)
    one, other = cohen_kappa(table), cohen_kappa(np.transpose(table))
    assert one.observed == pytest.approx(other.observed)
    assert (one.kappa is None) == (other.kappa is None)
    if one.kappa is not None:
        assert (one.kappa, one.low) == pytest.approx((other.kappa, other.low), abs=1e-9)


@settings(max_examples=50)
@given(st.lists(st.integers(0, 4), min_size=2, max_size=12))
def test_many_inspectors_agree_with_statsmodels(failed):
    counts = [[f, 4 - f] for f in failed]
    assume(0 < sum(failed) < 4 * len(failed))
    assert fleiss_kappa(counts).kappa == pytest.approx(their_fleiss(np.array(counts)))


def test_one_verdict_only_gives_no_kappa():
    found = cohen_kappa([[30, 0], [0, 0]])
    assert (found.observed, found.kappa, found.low) == (1, None, None)
    assert fleiss_kappa([[3, 0], [3, 0]]).kappa is None


def test_perfect_agreement_is_one():
    assert cohen_kappa([[20, 0], [0, 5]]).kappa == pytest.approx(1)
    assert fleiss_kappa([[3, 0], [0, 3], [3, 0]]).kappa == pytest.approx(1)


@pytest.mark.parametrize("table", [[[1, 2]], [[0, 0], [0, 0]], [[1, -1], [0, 2]]])
def test_table_that_is_none_is_refused(table):
    with pytest.raises(BadInput):
        cohen_kappa(table)


@pytest.mark.parametrize(
    "weights", [[[0, 1]], [[0, 0], [0, 0]], [[1, 1], [1, 0]], [[0, -1], [1, 0]]]
)
def test_weights_that_do_not_fit_are_refused(weights):
    with pytest.raises(BadInput):
        weighted_kappa([[5, 1], [2, 3]], weights)


@pytest.mark.parametrize("counts", [[[3, 0]], [[3, 0], [2, 0]], [[1, 0], [0, 1]]])
def test_inspectors_that_differ_in_number_are_refused(counts):
    with pytest.raises(BadInput):
        fleiss_kappa(counts)
