"""The lot of the cards: drawn so that anybody can draw it again, read once, on the day it names."""

from datetime import date, timedelta

import pytest

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.card_lot import CardLot, build_lot_result, draw_lot, find_first_day

CUT, EDGE = StepRef("finished", "cut"), StepRef("finished", "edge")
PEOPLE = tuple(f"A{n:02}" for n in range(1, 13))
SINCE, UNTIL = date(2026, 9, 1), date(2026, 11, 1)


def make_lot(first=PEOPLE[:6], second=PEOPLE[6:]):
    return CardLot(
        seed="5f",
        first=first,
        second=second,
        aims=dict.fromkeys((*first, *second), CUT),
        since=SINCE.isoformat(),
        until=(UNTIL if second else SINCE).isoformat(),
        drawn_on="2026-09-01T08:00:00.000Z",
        by="T01",
    )


def count(code, day, failed, inspected=30, step=CUT):
    return StepTally(step, code, "B1", day.isoformat(), inspected, failed)


def count_all(lot, with_card, without):
    """30 stoves of each before, 9 to 11 faulty, and 30 during."""
    for place, code in enumerate((*lot.first, *lot.second)):
        yield count(code, SINCE - timedelta(days=1), 9 + place % 3)
        yield count(code, SINCE, (with_card if code in lot.first else without) + place % 2)


def test_the_same_seed_draws_the_same_halves_and_another_seed_others():
    first, second = draw_lot(reversed(PEOPLE), "5f")
    assert draw_lot(PEOPLE, "5f") == (first, second)
    assert len(first) == len(second) == 6 and set(first) | set(second) == set(PEOPLE)
    halves = {draw_lot(PEOPLE, f"{n}")[0] for n in range(40)}
    assert len(halves) > 30
    # By sha256sum of "5f A01" to "5f A12", the six smallest: 1d20 A09, 4e63 A11, 5200 A06,
    # 7ab8 A02, 7d7a A03, 8536 A04.
    assert first == ("A02", "A03", "A04", "A06", "A09", "A11")
    assert [len(half) for half in draw_lot(PEOPLE[:9], "5f")] == [5, 4]


def test_each_is_first_as_often_as_not():
    """600 seeds: within five standard deviations of 300 for each of twelve people."""
    times = dict.fromkeys(PEOPLE, 0)
    for n in range(600):
        for code in draw_lot(PEOPLE, f"seed {n}")[0]:
            times[code] += 1
    assert all(240 < found < 360 for found in times.values())


def test_so_few_that_nothing_could_show_begin_together():
    assert draw_lot(PEOPLE[:7], "5f") == (PEOPLE[:7], ())
    lot = make_lot(PEOPLE[:7], ())
    assert lot.is_given("A07", SINCE) and build_lot_result(lot, [], UNTIL) is None


def test_card_is_given_to_a_half_on_its_day_and_to_others_at_once():
    lot = make_lot()
    yesterday, eve = SINCE - timedelta(days=1), UNTIL - timedelta(days=1)
    assert [lot.is_given("A01", day) for day in (yesterday, SINCE)] == [False, True]
    assert [lot.is_given("A12", day) for day in (SINCE, eve, UNTIL)] == [False, False, True]
    assert lot.is_given("A99", SINCE)


def test_nothing_is_said_while_the_lot_runs():
    lot = make_lot()
    result = build_lot_result(lot, count_all(lot, 0, 12), UNTIL - timedelta(days=1))
    assert (result.says, result.effect) == ("runs", None)


@pytest.mark.parametrize(
    ("with_card", "without", "says"),
    [(2, 11, "fewer"), (11, 2, "more"), (9, 9, "not_shown"), (0, -0, "too_few_faults")],
)
def test_planted_change_is_said_when_it_is_over(with_card, without, says):
    lot = make_lot()
    tallies = list(count_all(lot, with_card, without))
    if says == "too_few_faults":
        tallies = [one for one in tallies if one.day < lot.since] + [
            count(code, SINCE, 0) for code in PEOPLE
        ]
    result = build_lot_result(lot, tallies, UNTIL)
    assert result.says == says
    assert (result.first.people, result.second.people, result.left_out) == (6, 6, 0)
    if result.effect and says != "not_shown":
        # 9 of 30 stoves, which is 30 of 100; the rate before is allowed for.
        assert abs(result.effect.change.value) == pytest.approx(0.3, abs=0.03)


def test_only_the_named_step_and_the_days_of_the_lot_count():
    lot = make_lot()
    kept = list(count_all(lot, 5, 5))
    more = [
        count("A01", SINCE, 30, step=EDGE),
        count("A01", UNTIL, 30),
        count("A99", SINCE, 30),
        count(None, SINCE, 30),
    ]
    assert build_lot_result(lot, kept + more, UNTIL) == build_lot_result(lot, kept, UNTIL)
    assert find_first_day(lot) == "2026-03-05"


def test_person_with_too_few_stoves_is_left_out_and_counted():
    lot = make_lot()
    kept = [one for one in count_all(lot, 2, 11) if one.artisan not in ("A01", "A12")]
    few = [count(code, day, 1, 4) for code in ("A01", "A12") for day in (SINCE,)]
    result = build_lot_result(lot, kept + few, UNTIL)
    assert (result.left_out, result.first.people, result.second.people) == (2, 5, 5)
    assert result.first.during.inspected == 150


def test_too_few_people_left_is_said():
    lot = make_lot()
    kept = [one for one in count_all(lot, 2, 11) if one.artisan in PEOPLE[3:10]]
    assert build_lot_result(lot, kept, UNTIL).says == "too_few_people"
