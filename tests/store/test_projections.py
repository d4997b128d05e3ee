"""Projections: figures are a pure function of the log, whatever the order of arrival."""

import random

import pytest
from sqlalchemy import select

from qcapp.inspection.filters import Filters
from qcapp.store.projections import stove_projection
from qcapp.store.queries import batch_figures, trainer_queries
from qcapp.store.tables import CHECK_KEY, INSPECTION, RESULT, STOVE, TALLY
from tests.builders import Phone, open_yard

pytestmark = pytest.mark.both_engines

OTHER = "0197f000-0000-7000-8000-0000000000bb"


@pytest.fixture
def yard():
    return open_yard()


def dump(store):
    """Every projection row without its own row numbers."""
    stove, inspection, result, check = (
        STOVE,
        INSPECTION,
        RESULT,
        CHECK_KEY,
    )
    with store.reading() as connection:
        stoves = connection.execute(
            select(*[c for c in stove.c if c.name != "no"]).order_by(stove.c.stove_key)
        ).all()
        visited = connection.execute(
            select(*[c for c in inspection.c if c.name not in ("no", "stove_no")]).order_by(
                inspection.c.event_id
            )
        ).all()
        results = connection.execute(
            select(
                inspection.c.event_id,
                check.c.check_id,
                *[c for c in result.c if c.name not in ("inspection_no", "check_no")],
            )
            .join(inspection, inspection.c.no == result.c.inspection_no)
            .join(check, check.c.no == result.c.check_no)
            .order_by(inspection.c.event_id, check.c.check_id)
        ).all()
        tallies = sorted(connection.execute(select(TALLY)).all())
    return stoves, visited, results, tallies


def stove_row(store, key):
    with store.reading() as connection:
        return connection.execute(select(STOVE).where(STOVE.c.stove_key == key)).one()


def test_first_pass_is_the_first_by_captured_time_not_by_arrival(yard):
    early = yard.phone.inspect(
        "B1-001", width="120", disposition="rework", at="2026-11-24T08:00:00.000Z"
    )
    late = Phone(yard.checklist, OTHER).inspect("B1-001", at="2026-11-24T15:00:00.000Z")
    yard.push(late)
    assert not stove_row(yard.store, "finished/B1-1").has_first_pass_fail
    yard.push(early)
    row = stove_row(yard.store, "finished/B1-1")
    assert row.has_first_pass_fail and row.inspections == 2 and row.disposition == "release"


def test_rework_does_not_enter_a_persons_rate(yard):
    yard.push(yard.phone.inspect("B1-001", width="120", disposition="rework"))
    yard.push(yard.phone.inspect("B1-001", at="2026-11-24T12:00:00.000Z"))
    with yard.store.reading() as connection:
        tallies = {
            (t.step.step, t.artisan): (t.inspected, t.failed)
            for t in trainer_queries.list_step_tallies(connection, Filters())
        }
    assert tallies == {("cut-door-opening", "A01"): (1, 1), ("turn-edge", "A01"): (1, 0)}


def test_two_failed_checks_of_one_step_are_one_failed_stove(yard):
    yard.push(yard.phone.inspect("B1-001", edge="fail", dents="fail", disposition="rework"))
    with yard.store.reading() as connection:
        (tally,) = [
            t
            for t in trainer_queries.list_step_tallies(connection, Filters())
            if t.step.step == "turn-edge"
        ]
        checks = {
            t.check_id: t.failed
            for t in batch_figures.list_check_tallies(connection, "B1", "small-stove")
        }
    assert (tally.inspected, tally.failed) == (1, 1)
    assert checks == {"sharp-edge": 1, "dents": 1, "door-opening-width": 0}


def test_unassigned_step_counts_for_the_batch_only(yard):
    event = yard.phone.inspect("B1-001")
    yard.push(yard.phone.seal("inspection", "B1-002", {**event["body"], "crew": {}}))
    with yard.store.reading() as connection:
        assert {t.artisan for t in trainer_queries.list_step_tallies(connection, Filters())} == {
            None
        }


def test_correction_counts_instead_of_its_target_and_void_takes_it_out(yard):
    wrong = yard.phone.inspect("B1-001", width="120", disposition="rework")
    right = Phone(yard.checklist, OTHER).inspect("B1-001")["body"]
    yard.push(yard.phone.correct(wrong, right))
    assert dump(yard.store)[0] == []
    yard.push(wrong)
    assert not stove_row(yard.store, "finished/B1-1").has_first_pass_fail
    yard.push(yard.phone.void(wrong))
    assert dump(yard.store)[0] == []


def test_quarantined_event_counts_nowhere(yard):
    yard.push(yard.phone.inspect("B1-001", maker="A77"))
    assert dump(yard.store) == ([], [], [], [])


def test_doubtful_passes_under_a_simple_rule_and_is_shown_apart(yard):
    yard.push(yard.phone.inspect("B1-001", width="103"))
    with yard.store.reading() as connection:
        (tally,) = [
            t
            for t in batch_figures.list_check_tallies(connection, "B1", "small-stove")
            if t.doubtful
        ]
    assert (tally.check_id, tally.inspected, tally.failed, tally.doubtful) == (
        "door-opening-width",
        1,
        0,
        1,
    )


def _story(checklist):
    """Two phones, re-inspections, corrections, a void: twelve events of four stoves."""
    one, two = Phone(checklist), Phone(checklist, OTHER)
    first = one.inspect("B1-001", width="120", disposition="rework")
    again = two.inspect("B1-001", at="2026-11-24T13:00:00.000Z")
    third = one.inspect("B1-002", edge="fail", disposition="rework", maker="A02")
    mended = one.inspect("B1-002", at="2026-11-24T14:00:00.000Z", maker="A02")
    fourth = two.inspect("B1-003", dents="fail", disposition="concession")
    correction = two.correct(fourth, third["body"])
    double = one.inspect("B1-004")
    return [
        first,
        again,
        third,
        mended,
        fourth,
        correction,
        two.correct(correction, mended["body"]),
        double,
        one.void(double),
        two.inspect("B1-004", at="2026-11-24T16:00:00.000Z", width="97"),
        one.inspect("B1-005", maker="A77"),
        two.correct(first, again["body"]),
    ]


@pytest.mark.slow
@pytest.mark.sqlite_only
def test_any_order_and_any_split_gives_the_same_figures():
    reference = None
    for seed in range(12):
        yard = open_yard()
        events = _story(yard.checklist)
        # Corrections of one target are ordered by arrival (the later one shows), so their
        # order among themselves is part of the story; everything else may arrive anyhow.
        shuffled = _shuffle_but_keep_corrections(events, random.Random(seed))
        size = 1 + seed % 5
        for part in _split(shuffled, size):
            yard.push(*part)
        figures_now = dump(yard.store)
        reference = reference or figures_now
        assert figures_now == reference
        with yard.store.writing() as connection:
            stove_projection.rebuild(connection)
        assert dump(yard.store) == reference


def _split(events, size):
    return [events[start : start + size] for start in range(0, len(events), size)]


def _shuffle_but_keep_corrections(events, rng):
    places = list(range(len(events)))
    rng.shuffle(places)
    shuffled = [events[place] for place in places]
    fixed = iter([event for event in events if event["kind"] == "correction"])
    return [next(fixed) if event["kind"] == "correction" else event for event in shuffled]


def test_batch_states_add_up(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(3)))
    yard.push(yard.phone.inspect("B1-009", width="120", disposition="scrap"))
    with yard.store.reading() as connection:
        rows = {
            row.disposition: (row.stoves, row.failed)
            for row in batch_figures.list_stove_states(connection, "B1")
        }
    assert rows == {"release": (3, 0), "scrap": (1, 1)}
