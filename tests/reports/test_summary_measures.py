"""Measured values of a batch: bins, indices where the count allows, figures as text."""

import itertools
import random
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.checklist.history import ChecklistHistory
from qcapp.inspection.batch_facts import ResultGroup
from qcapp.reports.summary_measures import as_decimal, as_plain, list_measures, list_tools
from qcapp.reports.summary_messages import ALL_THE_SAME, NO_BELL_CURVE, TOO_FEW_VALUES
from tests.builders import build_small_checklist

CHECKLIST = build_small_checklist()
# Twenty-five readings to whole millimetres, mean 100, s = sqrt(50 / 24) = 1.4434.
BELL = [
    97,
    98,
    98,
    99,
    99,
    99,
    99,
    99,
    100,
    100,
    100,
    100,
    100,
    100,
    100,
    100,
    100,
    101,
    101,
    101,
    101,
    101,
    102,
    102,
    103,
]


def describe(readings, *, size="medium", verdict=None):
    counts = {}
    for reading in readings:
        counts[reading] = counts.get(reading, 0) + 1
    results = tuple(
        ResultGroup(
            CHECKLIST.hash,
            "door-opening-width",
            "door-opening",
            "major",
            size,
            verdict or ("pass" if 97 <= value <= 103 else "fail"),
            not 97 <= value <= 103,
            None,
            float(value),
            count,
        )
        for value, count in counts.items()
    )
    facts = SimpleNamespace(
        history=ChecklistHistory({CHECKLIST.hash: CHECKLIST}, {}),
        results=results,
        photo_passes=(),
        batch={"size": "medium"},
    )
    found = list_measures(facts)
    return found[0] if found else None


def test_indices_are_those_of_the_readings():
    """Worked by hand: s = sqrt(44 / 24) = 1.3540; Pp = 6 / (6 s) = 0.74; Ppk the same,
    as the mean is 100.
    """
    found = describe(BELL)
    assert sum((value - 100) ** 2 for value in BELL) == 44 and sum(BELL) == 2500
    assert (found["pp"]["value"], found["ppk"]["value"], found["why_no_index"]) == (
        "0.74",
        "0.74",
        None,
    )
    # Chi-square limits with 24 degrees of freedom, 12.401 and 39.364 (printed tables): 0.7385
    # sqrt(12.401 / 24), sqrt(39.364 / 24).
    assert (found["pp"]["low"], found["pp"]["high"]) == ("0.53", "0.95")


def test_smallest_median_largest_and_outside_are_counted():
    found = describe([*BELL, 104, 106])
    assert (found["n"], found["smallest"], found["median"], found["largest"], found["outside"]) == (
        27,
        "97",
        "100",
        "106",
        2,
    )
    assert (found["lower"], found["nominal"], found["upper"], found["uncertainty"]) == (
        "97",
        "100",
        "103",
        "1",
    )


def test_bins_of_whole_millimetres_have_their_edges_between_two_steps():
    bins = describe(BELL)["bins"]
    assert [(one["from"], one["to"], one["count"]) for one in bins] == [
        ("96.5", "97.5", 1),
        ("97.5", "98.5", 2),
        ("98.5", "99.5", 5),
        ("99.5", "100.5", 9),
        ("100.5", "101.5", 5),
        ("101.5", "102.5", 2),
        ("102.5", "103.5", 1),
    ]


@given(st.lists(st.integers(0, 400), min_size=1, max_size=60))
def test_bins_hold_every_value_once_and_are_few(readings):
    bins = describe(readings)["bins"]
    assert sum(one["count"] for one in bins) == len(readings) and 1 <= len(bins) <= 16
    for one, after in itertools.pairwise(bins):
        assert one["to"] == after["from"] and float(one["from"]) < float(one["to"])
    for one in bins:
        assert one["count"] == sum(
            float(one["from"]) <= value < float(one["to"]) for value in readings
        )


@pytest.mark.parametrize(
    ("readings", "why"),
    [
        (BELL[:24], TOO_FEW_VALUES(values=24, needed=25)),
        ([100] * 30, ALL_THE_SAME()),
        ([90] * 20 + [110] * 20, NO_BELL_CURVE()),
    ],
)
def test_why_there_is_no_index_is_said(readings, why):
    found = describe(readings)
    assert found["pp"] is None and found["ppk"] is None
    assert found["why_no_index"] == why.to_json()


def test_readings_to_a_coarse_step_keep_their_index():
    chance = random.Random(3)
    assert describe([round(chance.gauss(100, 0.8)) for _ in range(80)])["why_no_index"] is None


def test_values_of_another_size_or_not_looked_at_are_left_out():
    assert describe(BELL, size="small") is None
    assert describe(BELL, verdict="missing") is None


def test_tools_are_those_of_what_was_read():
    facts = SimpleNamespace(checklist=CHECKLIST)
    assert list_tools(facts) == [
        {
            "check": "door-opening-width",
            "ask": "door-opening-width",
            "resolution": "1",
            "uncertainty": "1",
            "decision": "simple",
        }
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.1, "0.1"),
        (100.0, "100"),
        (0.00001, "0.00001"),
        (-2.5, "-2.5"),
        (1e6, "1000000"),
        (0.0, "0"),
    ],
)
def test_number_is_written_in_plain_digits(value, text):
    assert as_plain(value) == text


def test_no_minus_stands_before_nothing():
    assert as_decimal(-0.00001, 2) == "0.00" and as_decimal(-0.126, 2) == "-0.13"
