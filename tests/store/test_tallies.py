"""Tallies: the same sums as counting the rows again in SQL, whatever came in which order."""

import random

import pytest
from sqlalchemy import select

from qcapp.checklist.history import StepRef
from qcapp.inspection.filters import Filters
from qcapp.store.queries import artisan_queries, trainer_queries
from qcapp.store.tables import TALLY
from qcapp.store.upkeep.audit import audit_store
from tests.builders import Phone, open_yard
from tests.store.count_in_sql import count_tallies_anew
from tests.store.test_projections import OTHER, _shuffle_but_keep_corrections, _story


def read_tallies(store):
    with store.reading() as connection:
        return sorted(connection.execute(select(TALLY)).all())


@pytest.mark.parametrize("seed", range(4))
def test_tallies_kept_push_by_push_are_those_counted_from_the_rows(seed):
    yard = open_yard()
    for event in _shuffle_but_keep_corrections(_story(yard.checklist), random.Random(seed)):
        yard.push(event)
    kept = read_tallies(yard.store)
    with yard.store.writing() as connection:
        count_tallies_anew(connection)
    assert kept == read_tallies(yard.store)
    assert {row.kind for row in kept} == {"step", "part", "severity", "check", "fault", "stove"}


def test_nothing_is_left_of_a_stove_that_is_voided():
    yard = open_yard()
    event = yard.phone.inspect("B1-001", width="120", edge="fail", disposition="rework")
    yard.push(event)
    assert read_tallies(yard.store)
    yard.push(yard.phone.void(event))
    assert read_tallies(yard.store) == []


def test_first_pass_that_arrives_late_moves_the_other_visit_out_of_the_first_passes():
    yard = open_yard()
    yard.push(Phone(yard.checklist, OTHER).inspect("B1-001", at="2026-11-24T15:00:00.000Z"))
    yard.push(
        yard.phone.inspect(
            "B1-001", width="120", disposition="rework", at="2026-11-23T08:00:00.000Z"
        )
    )
    steps = {
        (row.day, row.is_first_pass): (row.inspected, row.failed, row.major)
        for row in read_tallies(yard.store)
        if (row.kind, row.name) == ("step", "cut-door-opening")
    }
    assert steps == {("2026-11-23", True): (1, 1, 1), ("2026-11-24", False): (1, 0, 0)}


def test_stoves_made_before_a_day_are_counted_whatever_the_filters_leave_out():
    yard = open_yard()
    for n, day in enumerate(("01", "01", "02", "05")):
        yard.push(yard.phone.inspect(f"B1-{n:03}", at=f"2026-11-{day}T08:00:00.000Z"))
    with yard.store.reading() as connection:
        found = trainer_queries.list_step_tallies(
            connection,
            Filters(since="2026-11-02"),
            {StepRef("small-stove", "turn-edge")},
            has_made_before=True,
        )
        own = artisan_queries.list_step_inspections(
            connection, "A01", Filters(since="2026-11-02"), {StepRef("small-stove", "turn-edge")}
        )
    assert [(one.day, one.made_before) for one in found] == [("2026-11-02", 2), ("2026-11-05", 3)]
    assert [(one.stove, one.made_before) for one in own] == [
        ("finished/B1-002", 2),
        ("finished/B1-003", 3),
    ]


def test_altered_tally_is_found():
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001"))
    with yard.store.writing() as connection:
        connection.execute(TALLY.update().where(TALLY.c.kind == "step").values(failed=7))
    found = audit_store(yard.store).altered
    assert [str(one) for one in found] == [
        "the sums of batch B1: they are not those the log gives; qcapp rebuild makes them again"
    ]
