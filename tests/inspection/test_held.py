"""What the lead may decide about a held stove, by what all its inspections found."""

import pytest

from qcapp.inspection.held import find_open_findings
from tests.builders import build_small_checklist

CHECKLIST = build_small_checklist()
GOOD = {
    "sharp-edge": {"mark": "pass"},
    "door-opening-width": {"values": ["100"]},
    "dents": {"mark": "pass"},
}


def inspect(answers, **body):
    given = {"size": "medium", "batch_attributes": {}, "answers": answers, **body}
    return {"checklist_hash": CHECKLIST.hash, "body": given}


@pytest.mark.parametrize(
    ("looks", "choices"),
    [
        ([GOOD], ("release", "rework", "scrap")),
        ([{**GOOD, "dents": {"mark": "fail"}}], ("concession", "rework", "scrap")),
        ([{**GOOD, "sharp-edge": {"mark": "fail"}}], ("rework", "scrap")),
        ([{"sharp-edge": {"mark": "pass"}}], ("rework", "scrap")),
        # The last look at a check counts, whatever the later inspection left out.
        (
            [{**GOOD, "sharp-edge": {"mark": "fail"}}, {"sharp-edge": {"mark": "pass"}}],
            ("release", "rework", "scrap"),
        ),
        ([GOOD, {"sharp-edge": {"mark": "fail"}}], ("rework", "scrap")),
        ([{**GOOD, "dents": {"mark": "fail"}}, {}], ("concession", "rework", "scrap")),
    ],
)
def test_choices_follow_the_last_look_at_each_check(looks, choices):
    found = find_open_findings([inspect(one) for one in looks], {CHECKLIST.hash: CHECKLIST})
    assert found.choices == choices


def test_short_check_lacks_nothing_that_it_does_not_ask():
    short = inspect({"sharp-edge": {"mark": "pass"}}, scope="critical")
    assert find_open_findings([short], {CHECKLIST.hash: CHECKLIST}).choices == (
        "release",
        "rework",
        "scrap",
    )
