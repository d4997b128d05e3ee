"""What a sample promises: published curve points, designs, exact counting, edges."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, hypergeom

from qcapp.errors import BadInput
from qcapp.stats.operating import (
    acceptance_chance,
    bad_stoves_bound,
    consumers_risk,
    design_plan,
    design_process_plan,
    operating_curve,
    process_acceptance_chance,
    producers_risk,
)
from tests.stats.oracles import load_json

EXAMPLES = load_json("acceptance_examples")
CURVES = {row["id"]: row for row in EXAMPLES["oc"] if "pa_published" in row}
samples = st.integers(1, 80).flatmap(
    lambda lot: st.integers(1, lot).flatmap(
        lambda n: st.tuples(st.just(lot), st.just(n), st.integers(0, n))
    )
)


# Source: NIST/SEMATECH 6.2.3.2 (six secondary, rest memory; two printed values are one off in the
# third place) and Montgomery's table (memory).
@pytest.mark.parametrize(("name", "off"), [("nist_6232", 1.1e-3), ("montgomery_89_2", 6e-5)])
def test_process_curve_gives_the_published_points(name, off):
    row = CURVES[name]
    found = [process_acceptance_chance(p, row["n"], row["c"]) for p in row["p"]]
    assert found == pytest.approx(row["pa_published"], abs=off)


# Source: MIL-STD-105E, Table X-J for letter J at AQL 1.0 (memory; printed by Poisson, within 2
# percent).
def test_process_curve_gives_the_printed_points_of_letter_j():
    row = EXAMPLES["table_oc_memory"]["J_aql1.0_n80_c2"]
    for chance, percent in zip(row["pa"], row["p_percent"], strict=True):
        around = [process_acceptance_chance(percent * slip / 100, 80, 2) for slip in (1.02, 0.98)]
        assert around[0] - 0.005 <= chance <= around[1] + 0.005


@pytest.mark.parametrize(
    ("lot", "bad", "n", "ac"), [(7, 3, 4, 1), (9, 2, 3, 0), (8, 8, 5, 4), (6, 0, 2, 0)]
)
def test_chance_is_what_counting_every_sample_gives(lot, bad, n, ac):
    drawn = [sum(stove < bad for stove in sample) <= ac for sample in combinations(range(lot), n)]
    assert acceptance_chance(lot, bad, n, ac) == pytest.approx(np.mean(drawn))


@given(samples)
def test_curve_starts_at_certainty_never_rises_and_holds_single_chances(sample):
    lot, n, ac = sample
    curve = operating_curve(lot, n, ac)
    assert len(curve) == lot + 1
    assert curve[0].acceptance == 1
    chances = [point.acceptance for point in curve]
    assert all(later <= earlier + 1e-12 for earlier, later in pairwise(chances))
    assert curve[lot // 2].acceptance == pytest.approx(acceptance_chance(lot, lot // 2, n, ac))
    assert curve[-1].share == 1


def test_small_batch_is_judged_more_surely_than_a_process():
    assert acceptance_chance(60, 6, 13, 0) < process_acceptance_chance(0.1, 13, 0)


def test_risks_round_bad_stoves_towards_the_side_they_speak_for():
    # 2.5 % of 60 stoves: one is still good, two are already bad.
    assert producers_risk(60, 0.025, 13, 0) == pytest.approx(1 - acceptance_chance(60, 1, 13, 0))
    assert consumers_risk(60, 0.025, 13, 0) == pytest.approx(acceptance_chance(60, 2, 13, 0))
    assert producers_risk(200, 0.015, 50, 1) == pytest.approx(1 - acceptance_chance(200, 3, 50, 1))


def test_bound_of_a_clean_sample_is_the_one_counted_by_hand():
    # 13 of 60, none found: 11 bad left would stay hidden in 5.08 % of samples, 12 in 3.7 %.
    assert bad_stoves_bound(60, 13, 0) == 11
    assert acceptance_chance(60, 11, 13, 0) > 0.05 >= acceptance_chance(60, 12, 13, 0)


@given(samples, st.floats(0.5, 0.99))
def test_bound_is_the_last_number_the_sample_does_not_rule_out(sample, level):
    lot, n, found = sample
    left = bad_stoves_bound(lot, n, found, level)
    assert 0 <= left <= lot - n
    # Where the tail equals 1 - level, the last binary digit decides; so a hair is allowed.
    assert hypergeom.cdf(found, lot, found + left, n) > 1 - level - 1e-12
    if left < lot - n:
        assert hypergeom.cdf(found, lot, found + left + 1, n) <= 1 - level + 1e-12


@pytest.mark.parametrize("bad", [0, 1, 3, 8, 20])
def test_bound_holds_at_least_as_often_as_promised(bad):
    chance_of = [hypergeom.pmf(found, 60, bad, 13) for found in range(14)]
    holds = [bad - found <= bad_stoves_bound(60, 13, found) for found in range(14)]
    assert sum(c for c, is_held in zip(chance_of, holds, strict=True) if is_held) >= 0.95


def test_nothing_is_left_where_every_stove_was_inspected():
    assert bad_stoves_bound(60, 60, 4) == 0


# Source: find.plan example (primary) and a second published design (secondary), both binomial.
@pytest.mark.parametrize("row", EXAMPLES["two_point_designs"], ids=lambda row: f"n{row['n']}")
def test_process_design_gives_the_published_plan(row):
    found = design_process_plan(row["p1"], row["p2"], 1 - row["pa1_min"], row["pa2_max"])
    assert (found.n, found.ac) == (row["n"], row["c"])
    if "producer_risk" in row:
        risks = (row["producer_risk"], row["consumer_risk"])
        assert (found.producers_risk, found.consumers_risk) == pytest.approx(risks, abs=1e-7)


@pytest.mark.parametrize(("good", "bad"), [(0.05, 0.25), (0.02, 0.2), (0.1, 0.3)])
def test_no_smaller_process_plan_keeps_both_risks(good, bad):
    found = design_process_plan(good, bad)
    for n in range(1, found.n):
        ac = np.arange(n)
        keeps = (binom.cdf(ac, n, good) >= 0.95) & (binom.cdf(ac, n, bad) <= 0.1)
        assert not keeps.any()


@settings(max_examples=30)
@given(st.integers(5, 120), st.sampled_from([(0.01, 0.1), (0.05, 0.2), (0.1, 0.15)]))
def test_batch_design_keeps_both_risks_and_no_smaller_one_does(lot, rates):
    found = design_plan(lot, *rates)
    assert found.producers_risk == pytest.approx(
        producers_risk(lot, rates[0], found.n, found.ac), abs=1e-12
    )
    assert found.consumers_risk == pytest.approx(
        consumers_risk(lot, rates[1], found.n, found.ac), abs=1e-12
    )
    assert found.producers_risk <= 0.05
    assert found.consumers_risk <= 0.1
    if found.n > 1:
        rejects = np.array(
            [producers_risk(lot, rates[0], found.n - 1, ac) for ac in range(found.ac + 3)]
        )
        accepts = np.array(
            [consumers_risk(lot, rates[1], found.n - 1, ac) for ac in range(found.ac + 3)]
        )
        assert not ((rejects <= 0.05) & (accepts <= 0.1)).any()


@pytest.mark.parametrize(
    "build",
    [
        lambda: acceptance_chance(10, 11, 5, 0),
        lambda: acceptance_chance(10, 1, 11, 0),
        lambda: acceptance_chance(10, 1, 0, 0),
        lambda: operating_curve(0, 0, 0),
        lambda: process_acceptance_chance(1.5, 10, 0),
        lambda: bad_stoves_bound(60, 13, 14),
        lambda: bad_stoves_bound(60, 13, 0, 1),
        lambda: producers_risk(60, 0, 13, 0),
        lambda: design_plan(60, 0.2, 0.1),
        lambda: design_process_plan(0.1, 0.2, 0, 0.1),
    ],
)
def test_numbers_that_cannot_be_are_refused(build):
    with pytest.raises(BadInput):
        build()
