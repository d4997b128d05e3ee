"""However records arrive (split, merged, repeated, in any order, by any clock),
they mean the same.
"""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcapp.sync.protocol import PushRequest
from qcapp.sync.push import receive_push
from tests.builders import NOW
from tests.sync.simulation import checker
from tests.sync.simulation.records import KINDS
from tests.sync.simulation.world import World, open_world
from tests.sync.simulation.yard import DEVICES

pytestmark = pytest.mark.slow

WORLD: World | None = None
runs = settings(max_examples=40, deadline=None)


@pytest.fixture(scope="module", autouse=True)
def world():
    global WORLD
    with open_world() as WORLD:
        yield WORLD


plans = st.lists(
    st.tuples(
        st.sampled_from(("inspect", "inspect", "correct", "correct", "void")),
        st.integers(0, 1),
        st.sampled_from(tuple(KINDS)),
        st.integers(0, 5),
    ),
    min_size=1,
    max_size=8,
)


def make_events(plan: list) -> list[dict]:
    """Two phones; a correction or void aims at anything made before, also at a correction."""
    WORLD.phones.forget()
    phones = [
        WORLD.phones.make(device, {"device_id": device, "dev_seq": 0}) for device in DEVICES[:2]
    ]
    made: list[dict] = []
    for word, phone, kind, which in plan:
        targets = [event for event in made if event["kind"] != "void"]
        records = WORLD.records
        if word == "inspect" or not targets:
            fields = records.inspect(kind, f"S{which % 3}")
        else:
            target = targets[which % len(targets)]
            fields = records.void(target) if word == "void" else records.correct(target, kind)
        made.append(phones[phone].record(**fields))
    return made


def store(batches: list[list[dict]], **note) -> tuple[set, list]:
    """What is kept, and every figure's rows, after the batches were pushed to a fresh server."""
    WORLD.yard.start_again()
    for events in batches:
        wish = {"protocol": 1, "request_id": "r", "events": events, "device": note}
        receive_push(
            WORLD.yard.store, PushRequest.model_validate(wish), relayed_by=DEVICES[0], now=NOW
        )
    rows = WORLD.yard.read_log()
    checker.expect(
        4, [row.seq for row in rows] == list(range(1, len(rows) + 1)), "numbers have gaps"
    )
    return {(row.id, row.hash, row.state, row.raw) for row in rows}, checker.read_figures(
        WORLD.yard.path
    )


def cut(events: list, lengths: list[int]) -> list[list]:
    parts, start = [], 0
    for length in lengths:
        parts.append(events[start : start + length])
        start += length
    return [*parts, events[start:]]


@runs
@given(
    plan=plans,
    lengths=st.lists(st.integers(0, 4), max_size=4),
    again=st.lists(st.integers(0, 4), max_size=3),
)
def test_splitting_merging_and_repeating_change_nothing(plan, lengths, again):
    events = make_events(plan)
    batches = cut(events, lengths)
    repeated = [*batches, *(batches[number % len(batches)] for number in again)]
    checker.expect(
        3, store([events]) == store(repeated), f"{lengths} and {again} changed what is kept"
    )


@runs
@given(plan=plans, seed=st.integers(0, 10**6))
def test_order_of_arrival_changes_no_figure(plan, seed):
    """Only the order among corrections of one stove is kept: there the later one counts,
    and must.
    """
    events = make_events(plan)
    shuffled = events[:]
    random.Random(seed).shuffle(shuffled)
    corrections = {}
    for event in events:
        corrections.setdefault((event["stove"], event["kind"]), []).append(event)
    in_order = [
        corrections[event["stove"], "correction"].pop(0) if event["kind"] == "correction" else event
        for event in shuffled
    ]
    checker.expect(
        8,
        store([events]) == store([[event] for event in in_order]),
        f"order {seed} changed a figure",
    )


@runs
@given(
    plan=plans,
    clock=st.one_of(
        st.text(max_size=30),
        st.datetimes().map(lambda moment: f"{moment.isoformat()}Z"),
        st.integers(),
        st.none(),
    ),
)
def test_the_clock_a_phone_tells_changes_nothing(plan, clock):
    events = make_events(plan)
    checker.expect(
        10, store([events]) == store([events], clock=clock), f"{clock!r} changed what is kept"
    )
