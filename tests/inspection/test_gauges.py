"""When a template or gauge is due: the stairs of ILAC-G24 / OIML D 10, method 1, as settled here.

The expected days are worked out by hand from the rule in the module's docstring: 28 days, longer
150 %, shorter 50 %, an error up to 80 % of the tolerance is well within.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.inspection.gauges import GaugeRecord, build_gauges

TERMS = {
    "kind": "template",
    "name": "Door template 2",
    "step": "cut-door-opening",
    "piece": "steel master",
    "value": "100.0",
    "tolerance": "0.5",
    "unit": "mm",
    "interval_days": 28,
    "within_percent": 80,
    "longer_percent": 150,
    "shorter_percent": 50,
    "min_days": 7,
    "max_days": 182,
}


def record(event_id, kind, body, at, *, received_at=None, tz_min=0):
    event = {"id": event_id, "kind": kind, "body": body, "inspector": "I01", "captured_at": at}
    return GaugeRecord({**event, "tz_min": tz_min}, received_at or at)


def noon(day):
    return f"{day}T12:00:00.000Z"


def registered(day="2026-01-01", **change):
    return record("g1", "gauge", TERMS | change, noon(day))


def checked(day, value, *, against="g1", **more):
    body = {"gauge": "g1", "held_against": against, "value": value, "verdict": "pass"}
    return record(f"c{day}", "gauge_check", body, noon(day), **more)


def build(*records):
    (gauge,) = build_gauges([registered(), *records])
    return gauge


def test_one_that_was_never_checked_is_due_at_once():
    gauge = build()
    assert gauge.due_on == date(2026, 1, 1) and gauge.is_due(date(2026, 1, 1))


@pytest.mark.parametrize(
    ("value", "finding", "days"),
    [
        ("100.4", "well_within", 42),
        ("99.6", "well_within", 42),
        ("100.41", "within", 28),
        ("100.5", "within", 28),
        ("99.5", "within", 28),
        ("100.51", "outside", 14),
        ("99.4999", "outside", 14),
    ],
)
def test_interval_after_a_routine_check(value, finding, days):
    """29 January is 28 days after the first; the edges of the tolerance belong to it."""
    gauge = build(checked("2026-01-29", value))
    assert (gauge.last.finding, gauge.interval_days) == (finding, days)


def test_the_stairs_of_a_year():
    """28, 42, 63 (good); 31 after one outside; the check after mending keeps 31; then 46."""
    gauge = build(
        checked("2026-01-29", "100.0"),
        checked("2026-03-12", "100.1"),
        checked("2026-05-14", "101.0"),
        checked("2026-05-15", "100.0"),
        checked("2026-06-15", "100.2"),
    )
    assert [check.interval_days for check in gauge.checks] == [42, 63, 31, 31, 46]
    assert [check.change for check in gauge.checks] == [
        "longer",
        "longer",
        "shorter",
        "kept",
        "longer",
    ]
    assert gauge.due_on == date(2026, 7, 31)


def test_one_outside_is_due_until_it_is_found_within_and_is_not_shortened_twice():
    found = [checked("2026-01-29", "101"), checked("2026-01-30", "101")]
    gauge = build(*found)
    assert gauge.is_outside and gauge.due_on == date(2026, 1, 30) and gauge.interval_days == 14
    mended = build(*found, checked("2026-01-31", "100"))
    assert not mended.is_outside and mended.due_on == date(2026, 2, 14)


def test_checking_often_lengthens_nothing():
    days = [f"2026-01-{day:02}" for day in range(2, 21)]
    assert build(*(checked(day, "100") for day in days)).interval_days == 28
    assert build(checked("2026-01-21", "100")).interval_days == 28, "20 of 28 days"
    assert build(checked("2026-01-22", "100")).interval_days == 42, "21 of 28 days"


def test_interval_stays_within_its_bounds():
    long = build_gauges([registered(interval_days=180), checked("2026-06-30", "100")])
    assert long[0].interval_days == 182
    short = build_gauges([registered(interval_days=8), checked("2026-01-09", "102")])
    assert short[0].interval_days == 7


def test_phone_whose_clock_runs_ahead_makes_no_gauge_good_for_longer():
    gauge = build(checked("2031-01-29", "100", received_at=noon("2026-01-29")))
    assert gauge.last.day == date(2026, 1, 29) and gauge.due_on == date(2026, 3, 12)


def test_day_is_the_yards():
    late = record(
        "c",
        "gauge_check",
        {"gauge": "g1", "held_against": "g1", "value": "100", "verdict": "pass"},
        "2026-01-28T22:30:00.000Z",
        tz_min=180,
    )
    assert build(late).last.day == date(2026, 1, 29)


def test_changed_terms_judge_later_checks_and_begin_with_their_interval():
    changed = record("g2", "gauge", TERMS | {"gauge": "g1", "tolerance": "0.1"}, noon("2026-02-01"))
    gauge = build(
        checked("2026-01-29", "100.3"),
        changed,
        checked("2026-02-20", "100.3", against="g2"),
    )
    assert [check.finding for check in gauge.checks] == ["well_within", "outside"]
    assert build(checked("2026-01-29", "100.3"), changed).interval_days == 28
    # Judged on a phone that had not heard of the change: by what it was held against.
    assert build(changed, checked("2026-02-02", "100.3")).last.finding == "well_within"


def test_withdrawn_check_counts_no_more_and_withdrawn_gauge_is_gone():
    wrong = checked("2026-01-29", "150")
    void = record("v", "gauge", {"withdraws": wrong.event["id"]}, noon("2026-01-30"))
    gauge = build(wrong, void)
    assert gauge.last is None and gauge.voided == (wrong.event["id"],)
    assert (
        build_gauges([registered(), record("v", "gauge", {"withdraws": "g1"}, noon("2026-02-01"))])
        == []
    )


@given(st.permutations(range(5)))
def test_order_of_arrival_changes_nothing(order):
    found = [
        checked(day, value)
        for day, value in (
            ("2026-01-29", "100"),
            ("2026-03-12", "101"),
            ("2026-03-13", "100"),
            ("2026-03-27", "100.45"),
            ("2026-04-10", "100"),
        )
    ]
    assert build(*(found[at] for at in order)) == build(*found)
