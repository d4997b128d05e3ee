"""Chances of counts against exact fractions and against scipy.stats."""

import subprocess
import sys
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from qcapp.stats.discrete import binomial_limits, hypergeometric_cdf, hypergeometric_chances


@st.composite
def draws(draw):
    population = draw(st.integers(1, 3000))
    return population, draw(st.integers(0, population)), draw(st.integers(0, population))


def list_exact(population, marked, drawn):
    """Python divides whole numbers of any size to the last binary digit."""
    smallest, largest = max(0, drawn - (population - marked)), min(marked, drawn)
    ways = [
        comb(marked, count) * comb(population - marked, drawn - count)
        for count in range(smallest, largest + 1)
    ]
    return smallest, [way / comb(population, drawn) for way in ways]


@given(draws())
def test_a_sample_has_the_chances_of_the_exact_fractions(case):
    smallest, chances = hypergeometric_chances(*case)
    exact_smallest, exact = list_exact(*case)
    assert smallest == exact_smallest
    assert list(chances) == pytest.approx(exact, rel=1e-14, abs=1e-250)


def test_chances_of_one_so_many_or_fewer_by_hand():
    # 2 bad of 5, 2 drawn: 3 of 10 pairs have none, 6 have one, 1 has both.
    assert [hypergeometric_cdf(count, 5, 2, 2) for count in (-1, 0, 1, 2, 3)] == pytest.approx(
        [0, 0.3, 0.9, 1, 1], abs=1e-15
    )
    assert hypergeometric_cdf(0, 5, 5, 2) == 0


@given(st.integers(1, 400), st.floats(0.001, 0.999), st.floats(1e-6, 0.4))
def test_limits_of_a_count_are_the_quantiles(n, rate, tail):
    low, high = binomial_limits(tail, n, rate)
    below, above = binom.cdf(low - 1, n, rate), binom.sf(high, n, rate)
    assert max(below, above) <= tail * (1 + 1e-9)
    assert binom.cdf(low, n, rate) >= tail * (1 - 1e-9)
    assert high == 0 or binom.sf(high - 1, n, rate) >= tail * (1 - 1e-9)


def test_limits_of_a_tail_too_small_for_its_complement_stay_counts():
    # 1 - 1e-40 is 1 in binary: the upper limit must come from the upper tail.
    low, high = binomial_limits(1e-40, 50, 0.02)
    assert low == 0 and 20 < high < 50


def test_a_report_reckons_without_the_slow_library():
    """scipy.stats takes most of a second to load, on a page that somebody waits for."""
    code = (
        "import sys\n"
        "from qcapp.stats.attribute_charts import p_chart\n"
        "from qcapp.stats.compare import fisher_exact\n"
        "from qcapp.reports.teach_evidence import compare_steps\n"
        "from qcapp.stats.operating import bad_stoves_bound, operating_curve\n"
        "from qcapp.stats.strata import Stratum, mantel_haenszel\n"
        "strata = [Stratum(2, 20, 1, 30), Stratum(1, 10, 3, 40)]\n"
        "p_chart([(1, 10), (2, 12)]), fisher_exact(2, 20, 1, 30), compare_steps({}, [])\n"
        "mantel_haenszel(strata), bad_stoves_bound(60, 13, 0), operating_curve(60, 13, 0)\n"
        "assert 'scipy.special' in sys.modules\n"
        "print('scipy.stats' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
