"""The promise of "teach next", on a small number of simulated yards (the bench runs 500)."""

import pytest

from tests.bench.teach import YARDS, score_yard

pytestmark = pytest.mark.slow

RUNS = 60


@pytest.mark.parametrize(
    "yard",
    [yard for yard in YARDS if yard.planted is None and yard.stoves == 400],
    ids=lambda yard: yard.name,
)
def test_nobody_is_accused_more_often_than_promised(yard):
    """At 5 % of yards, 60 runs give more than 8 accusations in fewer than one in 100 tries."""
    assert score_yard(yard, RUNS, seed=3).accused * RUNS <= 8


def test_large_planted_effect_is_nearly_always_named_first():
    (yard,) = [yard for yard in YARDS if yard.planted == 0.25]
    score = score_yard(yard, RUNS, seed=4)
    assert score.named_first >= 0.9
