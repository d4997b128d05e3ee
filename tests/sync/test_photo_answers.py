"""Figures of a photo in a record: what fits counts, what cannot be is held back and lost never."""

import json

import pytest

from qcapp.store import log
from qcapp.sync.quarantine_reasons import IMPOSSIBLE_PHOTO, IMPOSSIBLE_VALUE, WRONG_FORM
from tests.photo_yard import PROPOSAL, inspect, open_photo_yard, take


@pytest.fixture(scope="module")
def yard():
    return open_photo_yard()


def list_kept(yard):
    with yard.store.reading() as connection:
        return [json.loads(one.raw) for one in log.list_after(connection, 0, 99)]


def margin(value="12.3", **change):
    taken = take("margin")
    return {"values": [value], **taken, "holes": {**taken["holes"], **change}}


RIGHT = {
    "a count and a margin as proposed": {
        "holes": {"values": ["19"], **take()},
        "margin": {"values": ["12.3"], **take("margin")},
    },
    "typed over": {
        "holes": {"values": ["18"], **take(is_taken=False)},
        "margin": {"values": ["11", "12"], **take(is_taken=False)},
    },
    "cannot be measured after all": {"margin": {"mark": "cannot_measure", **take(is_taken=False)}},
}


@pytest.mark.parametrize("name", RIGHT)
def test_record_counts_and_its_answer_is_kept_whole(yard, name):
    event = inspect(yard, f"R-{name[:9]}", RIGHT[name])
    assert yard.push(event)["results"][0]["outcome"] == "created"
    assert event in list_kept(yard)


PLACE = "answers.margin.holes"
UNSOUND = IMPOSSIBLE_PHOTO(names=["margin"])
WRONG = {
    "uncertainty of zero": ({"margin": margin(uncertainty="0")}, UNSOUND),
    "wider than the possible values": (
        {"margin": margin(uncertainty="61")},
        UNSOUND,
    ),
    "smaller than was proposed": (
        {"margin": margin(uncertainty="0.1")},
        UNSOUND,
    ),
    "another value than was proposed": (
        {"margin": margin("15.0")},
        UNSOUND,
    ),
    "another count than was proposed": (
        {"holes": {"values": ["18"], **take()}},
        IMPOSSIBLE_PHOTO(names=["holes"]),
    ),
    "a count with an uncertainty": (
        {"holes": {"values": ["19"], **take("margin")}},
        IMPOSSIBLE_PHOTO(names=["holes"]),
    ),
    "uncertainty beside a typed value": (
        {"margin": margin(is_taken=False)},
        UNSOUND,
    ),
    "one margin typed, said to be taken": (
        {"margin": {"values": ["12.3"], **take()}},
        UNSOUND,
    ),
    "a check that takes no photo": (
        {"rim": {"values": ["12.3"], **take("margin")}},
        IMPOSSIBLE_PHOTO(names=["rim"]),
    ),
    "a value that cannot be": ({"margin": margin("61")}, IMPOSSIBLE_VALUE(names=["margin"])),
    "below zero": (
        {"margin": margin(uncertainty="-0.4")},
        WRONG_FORM(place=f"body.{PLACE}.uncertainty", error="string_pattern_mismatch"),
    ),
    "no number": (
        {"margin": margin(uncertainty="NaN")},
        WRONG_FORM(place=f"body.{PLACE}.uncertainty", error="string_pattern_mismatch"),
    ),
    "no proposal": (
        {"margin": margin(proposal=None)},
        WRONG_FORM(place=f"body.{PLACE}.proposal", error="model_type"),
    ),
    "a proposal without widths": (
        {"margin": margin(proposal={k: v for k, v in PROPOSAL.items() if k != "widths"})},
        WRONG_FORM(place=f"body.{PLACE}.proposal.widths", error="missing"),
    ),
    "no name of a picture": (
        {"margin": margin(overlay="picture")},
        WRONG_FORM(place=f"body.{PLACE}.overlay", error="string_pattern_mismatch"),
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_is_held_back_with_its_reason_and_kept(yard, name):
    answers, reason = WRONG[name]
    event = inspect(yard, f"W-{name[:9]}", answers)
    (told,) = yard.push(event)["results"]
    assert (told["outcome"], told["reason"]) == ("quarantined", reason.to_json())
    assert event in list_kept(yard)
