"""Nothing lost, nothing twice: random phones, a real server, random faults, then quiet."""

import gc
import os
from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.sync.simulation.machine import Faults
from tests.sync.simulation.world import World, open_world

pytestmark = pytest.mark.slow

# A fixed set, so that a failure comes again; hypothesis prints the steps it found.
SEEDS = (11, 23, 37, 41, 53, 67, 79, 83)
STEPS = 14
# FAULT_RUNS: fewer while working on something else; the step "faults" of tests/run.py makes 2,000.
RUNS = int(os.environ.get("FAULT_RUNS", "200"))


@pytest.fixture(scope="module")
def world() -> World:
    with open_world() as opened:
        yield opened


@pytest.mark.parametrize("number", SEEDS)
def test_after_quiet_every_promise_holds(world, number):
    counts = {"runs": 0, "made": 0, "network_faults": 0, "signed": 0, "unproven": Counter()}
    machine = type(f"Faults{number}", (Faults,), {"world": world, **counts})
    chosen = settings(
        max_examples=-(-RUNS // len(SEEDS)),
        stateful_step_count=STEPS,
        database=None,
        deadline=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(seed(number)(machine), settings=chosen)
    held = ", ".join(f"{count} {name}" for name, count in sorted(machine.unproven.items()))
    counted = f"{machine.runs} runs, {machine.made} records, {machine.signed} signed"
    met = f"{machine.network_faults} network faults"
    print(f"seed {number}: {counted}, {met}, held back: {held or 'none'}")
    assert machine.runs >= RUNS / len(SEEDS) and machine.signed > machine.runs


# --- What random runs meet too seldom to rely on.


@pytest.fixture
def story(world):
    """A machine to be told step by step, with two phones; reckoned up at the end."""
    machine = type("Story", (Faults,), {"world": world})()
    machine.begin(phones=2, batch=3, page=3, last=0)
    yield machine
    machine.teardown()


def exchange(story: Faults, phone: int, *faults: str) -> None:
    story.exchange(phone=phone, tab=0, faults=list(faults), has_backup=False)


def correct(story: Faults, phone: int, kind: str) -> None:
    story.correct(phone=phone, kind=kind, which=0, is_void=False)


def test_two_correct_one_stove_while_an_answer_is_lost(story):
    """Both phones and the server must take the same correction for the last one."""
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=True)
    exchange(story, 1)
    correct(story, 0, "narrow")
    exchange(story, 0, "answer lost")
    exchange(story, 1)
    correct(story, 1, "sharp")
    exchange(story, 1)
    exchange(story, 0)


def test_two_correct_one_stove_and_a_restore_turns_their_order(story):
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=True)
    exchange(story, 1)
    story.happen(phone=0, mishap="backup", number=0)
    for phone, kind in ((0, "narrow"), (1, "sharp")):
        correct(story, phone, kind)
        exchange(story, phone)
    exchange(story, 0)
    story.restore(which=0)
    exchange(story, 1)
    exchange(story, 0)


def test_a_restore_that_another_phone_has_written_over(story):
    story.happen(phone=0, mishap="backup", number=0)
    story.record(phone=0, kind="good", stove="S1", photo=0, is_sent=True)
    story.restore(which=1)
    story.record(phone=1, kind="good", stove="S2", photo=None, is_sent=True)
    story.record(phone=1, kind="unknown artisan", stove="S3", photo=None, is_sent=True)


def test_a_phone_put_back_to_an_earlier_day_takes_a_new_id_and_gets_its_own_records_back(story):
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=True)
    story.copy_phone(phone=0)
    story.record(phone=0, kind="narrow", stove="S2", photo=None, is_sent=True)
    story.record(phone=0, kind="good", stove="S3", photo=None, is_sent=False)
    before = story.phones[0].meta["device_id"]
    story.roll_back_phone(phone=0)
    exchange(story, 0)
    memory = story.phones[0]
    (loss,) = [
        row["event"]["body"]
        for row in memory.rows.values()
        if row["event"]["kind"] == "device_report"
    ]
    assert (loss["device_id"], loss["created"], loss["lost"]) == (before, 3, 1)
    assert memory.meta["device_id"] != before
    assert {row["event"]["stove"] for row in memory.rows.values()} == {"S1", "S2", None}


def test_a_phone_put_back_to_before_an_earlier_loss_uses_none_of_its_old_numbers_again(story):
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=True)
    story.copy_phone(phone=0)
    first = story.phones[0].meta["device_id"]
    story.record(phone=0, kind="good", stove="S2", photo=None, is_sent=True)
    story.empty_phone(phone=0)
    story.happen(phone=0, mishap="join again", number=0)
    story.roll_back_phone(phone=0)
    assert story.phones[0].meta["device_id"] == first
    story.record(phone=0, kind="good", stove="S3", photo=None, is_sent=True)
    numbers = [(event["device_id"], event["dev_seq"]) for event in story.ledger.made.values()]
    assert len(numbers) == len(set(numbers)) and numbers[-1][0] != first


def test_a_record_altered_under_an_id_that_no_server_knows_yet(story):
    """Phone 1 is emptied and has not joined again; the next one alters what it made meanwhile."""
    story.empty_phone(phone=0)
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=False)
    story.happen(phone=1, mishap="copied id", number=0)
    exchange(story, 1)
    exchange(story, 0)


def test_a_phone_joins_again_while_an_answer_is_on_the_way(story):
    story.begin_exchange(phone=0, tab=0, steps=1, has_new=True)
    story.happen(phone=0, mishap="join again", number=0)
    story.end_exchange(which=0, faults=[])
    assert not story.phones[0].list_unsent()


def test_a_phone_emptied_and_put_back_before_it_was_opened_has_lost_nothing(story):
    story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=False)
    story.copy_phone(phone=0)
    story.empty_phone(phone=0)
    story.roll_back_phone(phone=0)
    exchange(story, 0)
    assert story.ledger.reports == [] and not story.phones[0].list_unsent()


def test_a_phone_emptied_twice_after_a_page_died_reports_what_it_could_note(story):
    """The record was kept, and the page died before it was noted beside the database."""
    story.kill_in_a_record(phone=0, kind="good", step=4, is_sent=False)
    story.empty_phone(phone=0)
    story.empty_phone(phone=0)
    exchange(story, 0)
    assert story.ledger.reports == []


@pytest.fixture
def memory_is_kept():
    """Nothing is freed by chance between two steps."""
    gc.disable()
    yield
    gc.enable()


@pytest.mark.parametrize("statement", range(12))
def test_a_server_that_lost_power_holds_no_file(story, memory_is_kept, statement):
    for _ in range(statement):
        next(story.network.numbers)
    story.record(phone=0, kind="narrow", stove="S1", photo=None, is_sent=False)
    exchange(story, 0, "none", "power cut")
    story.happen(phone=0, mishap="backup", number=0)


# As many steps as an exchange with one row to send, one to pull and nothing else takes, and more.
@pytest.mark.parametrize("step", range(1, 51, 7))
def test_a_page_is_killed_at_any_step_of_an_exchange(story, step):
    for near in range(step, step + 7):
        story.record(phone=0, kind="narrow", stove="S1", photo=None, is_sent=False)
        story.kill_in_an_exchange(phone=0, kind="good", step=near)
