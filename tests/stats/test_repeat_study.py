"""Variance components of a repeat study: published results, coverage, edges."""

import numpy as np
import pytest

from qcapp.errors import BadInput
from qcapp.stats.repeat_study import choose_block, study_repeats
from tests.stats.oracles import load_csv, load_json

PUBLISHED = load_json("measurement")["gauge_study"]["anova"]


def gauge_readings():
    readings = np.empty((10, 3, 3))
    for row in load_csv("gauge_study"):
        readings[int(row["part"]) - 1, "ABC".index(row["appraiser"]), int(row["trial"]) - 1] = (
            float(row["value"])
        )
    return readings


def simulated(rng, inspectors, between, changing):
    stoves = rng.normal(0, 2, 10)[:, None, None]
    people = rng.normal(0, between, inspectors)[None, :, None] if between else 0
    both = rng.normal(0, changing, (10, inspectors, 1)) if changing else 0
    return 100 + stoves + people + both + rng.normal(0, 1, (10, inspectors, 3))


# Source: the 10 x 3 x 3 example of the automotive manual, by analysis of variance (secondary).
def test_components_are_the_published_ones():
    found = study_repeats(gauge_readings())
    assert found.is_pooled == PUBLISHED["pooled"]
    assert found.repeatability.value == pytest.approx(PUBLISHED["ev"], abs=5e-6)
    assert found.reproducibility == pytest.approx(PUBLISHED["av"], abs=5e-6)
    assert found.measuring.value == pytest.approx(PUBLISHED["grr"], abs=5e-6)
    assert found.stoves == pytest.approx(PUBLISHED["pv"], abs=5e-6)
    assert 100 * found.share_of_total == pytest.approx(PUBLISHED["pct_grr"], abs=0.05)


@pytest.mark.parametrize(("between", "changing"), [(1.0, 0), (1.0, 1.0), (0.3, 0)])
def test_intervals_cover_as_promised(between, changing):
    rng, repeat_hits, all_hits = np.random.default_rng(3), [], []
    truth = np.sqrt(1 + between**2 + changing**2)
    for _ in range(200):
        found = study_repeats(simulated(rng, 4, between, changing))
        repeat_hits.append(found.repeatability.low <= 1 <= found.repeatability.high)
        all_hits.append(found.measuring.low <= truth <= found.measuring.high)
    assert np.mean(repeat_hits) >= 0.9
    assert np.mean(all_hits) >= 0.9


def test_disagreement_that_changes_from_stove_to_stove_is_kept():
    found = study_repeats(simulated(np.random.default_rng(5), 3, 0, 3.0))
    assert not found.is_pooled
    assert found.reproducibility > 1.5


def test_another_unit_changes_only_the_scale():
    one, other = study_repeats(gauge_readings()), study_repeats(10 * gauge_readings())
    assert other.measuring.high == pytest.approx(10 * one.measuring.high)
    assert other.share_of_total == pytest.approx(one.share_of_total)


@pytest.mark.parametrize(
    "readings", [[[[1, 2], [3]]], [[[1, 2]]], np.full((3, 2, 2), 5.0), np.ones((2, 2))]
)
def test_study_that_is_not_complete_is_refused(readings):
    with pytest.raises(BadInput):
        study_repeats(readings)


@pytest.mark.parametrize(
    ("readings", "block"),
    [
        # A third inspector with one stove is left out; a stove that one missed is left out.
        ([[2, 2, 2], *[[2, 2, 0]] * 9], ([0, 1], 2, list(range(10)))),
        ([*[[2, 2, 2]] * 9, [2, 2, 0]], ([0, 1, 2], 2, list(range(9)))),
        # Three repeats of two stoves have more readings than two of two.
        ([[3, 3], [3, 3]], ([0, 1], 3, [0, 1])),
        ([[2, 2], [1, 2]], ([0, 1], 0, [])),
        ([[2, 0], [0, 2]], ([0, 1], 0, [])),
    ],
)
def test_largest_complete_part_is_chosen(readings, block):
    assert choose_block(readings) == block
