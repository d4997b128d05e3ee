"""The promise of "teach next", on a small number of simulated yards (the bench runs 500)."""

import pytest

from tests.bench.teach import EFFECTS, FITTED, HARDER, NOTHING, Yard, score_yard

pytestmark = pytest.mark.slow

RUNS = 40


@pytest.mark.parametrize(
    "yard",
    [*(yard for yard in NOTHING if yard.apprentices > 1), HARDER[0]],
    ids=lambda yard: yard.name,
)
def test_nobody_is_accused_more_often_than_promised(yard):
    """At 5 % of yards, 40 runs give more than 6 accusations in fewer than one in 100 tries."""
    assert score_yard(yard, RUNS, seed=3).accused * RUNS <= 6


def test_one_person_is_never_taken_for_a_group():
    """Without a test nothing can be named, whatever the person does."""
    assert score_yard(Yard(1, 5, 2 * FITTED, planted=0.9), 5, seed=5).named == 0


def test_large_planted_effect_is_nearly_always_named_first():
    """People alike, 4 % against 30 %."""
    (yard,) = [
        yard
        for yard in EFFECTS
        if yard.planted == 0.30 and yard.spread == 0 and yard.apprentices == 3
    ]
    assert score_yard(yard, RUNS, seed=4).named_first >= 0.9
