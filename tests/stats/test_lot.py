"""What a lot has changed: exact counts, another program, and yards whose answer is known."""

import re

import numpy as np
import pytest
from scipy.special import expit, logit
from scipy.stats import permutation_test

from qcapp.errors import BadInput
from qcapp.stats.lot import MAX_LOTS, PersonPeriods, estimate_lot_effect
from tests.builders import ROOT


def person(is_first, during, before=(2, 20)):
    return PersonPeriods(is_first, *before, *during)


def invent_people(count, seed):
    draws = np.random.default_rng([21, seed])
    return tuple(
        person(
            place < count // 2,
            (int(draws.binomial(20, 0.15 if place < count // 2 else 0.3)), 20),
            (int(draws.binomial(30, 0.3)), 30),
        )
        for place in range(count)
    )


def fit_t(people, is_first, shift=0.0):
    """t of the lot in an analysis of covariance, by least squares, as a textbook writes it."""
    had = np.array([one.is_first for one in people], float)
    during = np.array([one.during_failed / one.during_inspected for one in people]) - shift * had
    before = np.array([one.before_failed / one.before_inspected for one in people])
    design = np.column_stack([np.ones(len(people)), before, is_first])
    fitted, *_ = np.linalg.lstsq(design, during, rcond=None)
    left = during - design @ fitted
    variance = left @ left / (len(people) - 3) * np.linalg.inv(design.T @ design)[2, 2]
    return fitted[2] / np.sqrt(variance)


def permute(people, shift=0.0):
    """p by another program, over every lot."""
    halves = [[n for n, one in enumerate(people) if one.is_first == had] for had in (True, False)]
    found = permutation_test(
        halves,
        lambda first, _second: abs(fit_t(people, np.isin(np.arange(len(people)), first), shift)),
        permutation_type="independent",
        n_resamples=np.inf,
        alternative="greater",
        vectorized=False,
    )
    return found.pvalue


def test_tea_of_1935_has_its_exact_p():
    """Fisher, The Design of Experiments, chapter 2: three of four cups right, (16 + 1) of 70 on
    either side.
    """
    rights = [(10, 10)] * 3 + [(0, 10)] + [(10, 10)] + [(0, 10)] * 3
    people = tuple(person(place < 4, right) for place, right in enumerate(rights))
    found = estimate_lot_effect(people)
    assert (found.lots, found.is_complete) == (70, True)
    assert found.p == pytest.approx(34 / 70) and found.change.value == pytest.approx(0.5)


def test_example_of_the_guide():
    page = (ROOT / "static" / "guide" / "figures.md").read_text(encoding="utf-8")
    part = " ".join(
        page.partition("## Does the card help?")[2].partition("## And always")[0].split()
    )
    for last, said in ((6, "-10 of 100 stoves (95 % interval -17 to -3)"), (3, "-7.5 (-17 to +3)")):
        during = (3, 2, 4, 3, 6, 7, 5, last)
        found = estimate_lot_effect(
            tuple(person(place < 4, (one, 30), (6, 30)) for place, one in enumerate(during))
        )
        ends = (found.change.low, found.change.high)
        assert f"{100 * found.change.value:.3g} " in said and said in part
        assert [f"{100 * end:+.0f}" for end in ends] == re.findall(r"[-+]\d+(?= to|\))", said)
        assert last == 3 or (found.lots, round(found.p, 3)) == (70, 0.029)


def test_estimate_is_that_of_the_analysis_of_covariance():
    people = invent_people(12, 1)
    had = np.array([one.is_first for one in people], float)
    during = [one.during_failed / one.during_inspected for one in people]
    before = [one.before_failed / one.before_inspected for one in people]
    fitted, *_ = np.linalg.lstsq(np.column_stack([np.ones(12), before, had]), during, rcond=None)
    assert estimate_lot_effect(people).change.value == pytest.approx(fitted[2])


def test_p_is_that_of_another_program():
    people = invent_people(8, 2)
    assert estimate_lot_effect(people).p == pytest.approx(permute(people), abs=1e-9)


def test_interval_ends_where_the_test_of_a_change_begins_to_refuse_it():
    people = invent_people(8, 3)
    change = estimate_lot_effect(people).change
    assert -1 < change.low < change.value < change.high < 1
    for end, inner in ((change.low, 1e-6), (change.high, -1e-6)):
        assert permute(people, end + inner) > 0.05 >= permute(people, end - inner)


def test_halves_changed_round_mirror_the_change():
    people = invent_people(12, 4)
    turned = tuple(one._replace(is_first=not one.is_first) for one in people)
    one, other = estimate_lot_effect(people), estimate_lot_effect(turned)
    assert one.p == pytest.approx(other.p)
    assert (one.change.low, one.change.high) == pytest.approx(
        (-other.change.high, -other.change.low)
    )


def test_more_lots_than_can_be_listed_are_drawn_with_the_one_that_fell():
    found = estimate_lot_effect(invent_people(24, 5))
    assert (found.lots, found.is_complete) == (MAX_LOTS, False)
    assert 1 / MAX_LOTS <= found.p <= 1 and found.change.low < found.change.high


@pytest.mark.parametrize(
    "people",
    [
        invent_people(6, 6),
        tuple(one._replace(is_first=True) for one in invent_people(8, 6)),
        tuple(person(place < 4, (place == 0, 20)) for place in range(8)),
    ],
    ids=["too few people", "no lot", "too few faults"],
)
def test_what_cannot_be_told_is_not_told(people):
    assert estimate_lot_effect(people) is None


def test_counts_that_cannot_be_are_refused():
    with pytest.raises(BadInput):
        estimate_lot_effect((person(True, (0, 0)),) * 8)


def simulate_yard(draws, odds):
    """(people, true change): 8 to 16 people with five steps each, whose rates differ; of each the
    step with most faults is named before the lot, as the card does, and then everybody becomes a
    little better. odds: of a fault with the card, against without.
    """
    count = int(draws.integers(8, 17))
    everyone = np.arange(count)
    base = logit(0.15) + draws.normal(0, 0.6, count)[:, None] + draws.normal(0, 0.5, (count, 5))
    before = draws.integers(20, 60, count)
    failed = draws.binomial(before[:, None], expit(base))
    worst = failed.argmax(axis=1)
    is_first = np.isin(everyone, draws.permutation(count)[: (count + 1) // 2])
    without = expit(base[everyone, worst] - 0.2 + draws.normal(0, 0.2, count))
    with_card = without * odds / (1 - without + without * odds)
    during = np.maximum(5, draws.poisson(25, count))
    after = draws.binomial(during, np.where(is_first, with_card, without))
    columns = (is_first, failed[everyone, worst], before, after, during)
    people = tuple(PersonPeriods(*row) for row in zip(*(c.tolist() for c in columns), strict=True))
    return people, float((with_card - without).mean())


def run_yards(yards, odds, seed):
    """(share covered, share called real) of the yards where something can be told."""
    draws = np.random.default_rng([21, seed])
    covered = real = told = 0
    for _ in range(yards):
        people, truth = simulate_yard(draws, odds)
        found = estimate_lot_effect.__wrapped__(people)
        if found:
            told += 1
            covered += found.change.low <= truth <= found.change.high
            real += found.p <= 0.05
            assert (found.p <= 0.05) == (not found.change.low <= 0 <= found.change.high)
    assert told > 0.97 * yards
    return covered / told, real / told


def test_planted_effect_is_covered_and_none_is_rarely_called_real():
    covered, real = run_yards(1000, 0.4, seed=1)
    assert 0.93 <= covered <= 0.97 and real > 0.25
    covered, real = run_yards(1000, 1.0, seed=2)
    assert 0.93 <= covered <= 0.97 and real <= 0.05


@pytest.mark.slow
@pytest.mark.parametrize(("odds", "seed"), [(1.0, 3), (0.7, 4)])
def test_promise_holds_in_two_thousand_yards(odds, seed):
    covered, real = run_yards(2000, odds, seed)
    assert 0.93 <= covered <= 0.97
    assert odds != 1 or real <= 0.05
