"""Nelson's eight rules: made-up series, false alarms by theory, mirror."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.errors import BadInput
from qcapp.stats.run_rules import NELSON_RULES, nelson_signals
from tests.stats.oracles import load_json

CASES = load_json("run_rules")["cases"]["items"]


def first_index(rule, sigmas):
    return next((signal.index for signal in nelson_signals(sigmas) if signal.rule == rule), None)


# Source: series constructed for Nelson 1984 (rules from memory); positions count from 1.
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['rule']}-{case['first']}")
def test_rule_signals_first_where_the_series_says(case):
    found = first_index(int(case["rule"][1:]), case["z"])
    assert (None if found is None else found + 1) == case["first"]


@pytest.mark.parametrize(
    ("rule", "sigmas", "index"),
    [
        (1, [0, 3.0], None),
        (1, [0, -3.001], 1),
        (2, [0.1] * 8, None),
        (3, [1, 2, 3, 3, 4, 5, 6], None),
        (4, [1, -1] * 6 + [1], None),
        (5, [2.5, 2.1], 1),
        (5, [2.5, -2.5, 0], None),
        (5, [2.1, 2.0], None),
        (6, [1.1, 1.2, 0.3, 1.4, 1.5], 4),
        (6, [1.1, 1.2, 1.3, 1.4], 3),
        (6, [1.1, 1.2, 0.3, 0.2, 1.4, 1.5], None),
        (7, [0.5, -0.5] * 7 + [0.1], 14),
        (7, [0.5, -0.5] * 7 + [1.0], None),
        (8, [1.2, -1.3, 1.5, -1.9, 1.4, -1.6, 1.2, -1.3], 7),
        (8, [1.2] * 8, None),
    ],
)
def test_rule_at_its_edges(rule, sigmas, index):
    assert first_index(rule, sigmas) == index


@given(st.lists(st.floats(-4, 4), max_size=40))
def test_turning_the_series_upside_down_changes_no_signal(sigmas):
    assert nelson_signals(sigmas) == nelson_signals([-z for z in sigmas])


@given(st.lists(st.floats(-4, 4), max_size=40))
def test_signal_depends_on_nothing_that_comes_after(sigmas):
    before = [signal for signal in nelson_signals(sigmas) if signal.index < len(sigmas) - 1]
    assert list(nelson_signals(sigmas[:-1])) == before


def test_single_points_of_good_making_signal_as_rarely_as_theory_says():
    # Chances of each rule at one given point of independent normal readings, from the normal table.
    sigmas = np.random.default_rng(4).standard_normal(15_000).tolist()
    found = dict.fromkeys(NELSON_RULES, 0)
    for signal in nelson_signals(sigmas):
        found[signal.rule] += 1
    inside = 0.682689
    theory = {
        1: 0.0026998,
        2: 2 * 0.5**9,
        3: 2 / 720,
        7: inside**15,
        8: (1 - inside) ** 8 * (1 - 2 * 0.5**8),
    }
    for rule, chance in theory.items():
        assert found[rule] / len(sigmas) == pytest.approx(
            chance, abs=6 * (10 * chance / len(sigmas)) ** 0.5
        )


def test_value_that_is_no_number_is_refused():
    with pytest.raises(BadInput):
        nelson_signals([0.1, float("nan")])
