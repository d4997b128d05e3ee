"""Nothing lost, nothing twice: random phones, a real server, random faults, then quiet."""

import pytest
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.sync.twin.machine import Faults
from tests.sync.twin.world import World, open_world

# A fixed set, so that a failure comes again; hypothesis prints the steps it found.
SEEDS = (11, 23, 37, 41, 53, 67, 79, 83)
RUNS_EACH = 250
STEPS = 14


@pytest.fixture(scope="module")
def world() -> World:
    opened = open_world()
    yield opened
    opened.yard.close()


@pytest.mark.parametrize("number", SEEDS)
def test_after_quiet_every_promise_holds(world, number):
    machine = type(f"Faults{number}", (Faults,), {"world": world, "runs": 0})
    chosen = settings(
        max_examples=RUNS_EACH, stateful_step_count=STEPS, database=None, deadline=None,
        phases=(Phase.generate, Phase.shrink), suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(seed(number)(machine), settings=chosen)
    print(f"seed {number}: {machine.runs} runs")
    assert machine.runs >= RUNS_EACH


def test_the_set_of_runs_is_at_least_two_thousand():
    assert len(SEEDS) * RUNS_EACH >= 2000
