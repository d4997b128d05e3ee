"""Guard bands and risks: the JCGM 106 example, edges."""

import numpy as np
import pytest
from scipy.stats import gamma, norm

from qcapp.errors import BadInput
from qcapp.stats.uncertainty import (
    Limits,
    guard_limits,
    verdict_risks,
)
from tests.stats.oracles import load_json

PUBLISHED = load_json("measurement")
JCGM = PUBLISHED["jcgm_106"]
BEARING = gamma(JCGM["prior"]["shape"], scale=JCGM["prior"]["scale"])
WITHIN_TWO = Limits(None, JCGM["upper_limit"])


# Source: JCGM 106:2012, 9.5.4 (secondary); producer's risks recomputed from the same inputs.
def test_risks_of_simple_acceptance_are_those_of_the_bearing_example():
    found = verdict_risks(BEARING, WITHIN_TWO, WITHIN_TWO, 2 * JCGM["u_measurement"])
    assert found.outside == pytest.approx(JCGM["p_nonconforming"], abs=1e-8)
    assert found.wrongly_passed == pytest.approx(JCGM["consumer_risk_simple_acceptance"], abs=1e-7)
    assert found.wrongly_failed == pytest.approx(
        JCGM["recomputed"]["producer_risk_simple_acceptance"], abs=1e-6
    )


def test_guard_band_of_the_bearing_example_brings_the_risk_it_was_made_for():
    acceptance = Limits(None, JCGM["acceptance_limit"])
    found = verdict_risks(BEARING, WITHIN_TWO, acceptance, 2 * JCGM["u_measurement"])
    assert found.wrongly_passed == pytest.approx(JCGM["target_consumer_risk"], abs=1e-7)
    assert found.wrongly_failed == pytest.approx(
        JCGM["recomputed"]["producer_risk_at_guarded_limit"], abs=1e-6
    )


def test_risks_are_what_a_trial_shows():
    rng = np.random.default_rng(11)
    true = rng.normal(100, 1.5, 400_000)
    read = true + rng.normal(0, 0.4, 400_000)
    is_good, is_passed = abs(true - 100) <= 3, abs(read - 100) <= 2.6
    found = verdict_risks(norm(100, 1.5), Limits(97, 103), Limits(97.4, 102.6), 0.8)
    assert found.wrongly_passed == pytest.approx((~is_good & is_passed).mean(), abs=3e-4)
    assert found.wrongly_failed == pytest.approx((is_good & ~is_passed).mean(), abs=1e-3)


# Source: ILAC-G8:09/2019, w = r U (secondary): risk of a reading just on the guard limit.
# Its last row, r = 3, says only "under one in a million".
@pytest.mark.parametrize("row", JCGM["guard_band_table"][:-1], ids=lambda row: f"r{row['r']}")
def test_guard_factor_holds_the_risk_of_a_single_reading(row):
    limits = Limits(None, 10.0)
    on_limit = guard_limits(limits, 0.5, row["r"]).upper
    true = norm(on_limit, 0.5 / 2)
    assert true.sf(limits.upper) == pytest.approx(row["max_specific_risk"], rel=0.2)
    assert norm(guard_limits(limits, 0.5, 3).upper, 0.5 / 2).sf(limits.upper) < 1e-6


@pytest.mark.parametrize(
    "build",
    [
        lambda: guard_limits(Limits(None, None), 1, 1),
        lambda: guard_limits(Limits(2, 1), 1, 1),
        lambda: guard_limits(Limits(0, 1), -1, 1),
        lambda: guard_limits(Limits(0, 1), 0.1, -1),
        lambda: verdict_risks(norm(), Limits(-1, 1), Limits(-1, 1), 0),
    ],
)
def test_limits_or_uncertainty_that_cannot_be_are_refused(build):
    with pytest.raises(BadInput):
        build()
