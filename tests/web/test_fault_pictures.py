"""What a fault looks like, as its checklist draws it: on the card of a record, on the trainer's
pages.
"""

import re
from pathlib import Path

import pytest

from qcapp.checklist.model import Checklist
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.drawings import keep_drawings
from qcapp.usecases.open_store import read_shown
from tests.builders import Phone, build_small_checklist, open_yard
from tests.web.test_photos import JPEG, NAME, send_whole

FOLDER = Path(__file__).parents[2] / "checklists" / "pictures"
ENOUGH_TO_TEACH = 6
LOOKS = {"too-large": "opening-too-wide", "bad": "edge-torn"}


@pytest.fixture
def yard():
    """Its checklist names a picture for each fault of the width, and for none of another check."""
    yard = open_yard()
    compiled = build_small_checklist(revision=2).compiled()
    for fault in compiled["checks"][1]["faults"]:
        fault["picture"] = LOOKS[fault["id"]]
    yard.checklist = Checklist.from_compiled(compiled)
    with yard.store.writing() as connection:
        publish_checklist(connection, yard.checklist, origin="file", now="2026-11-02T00:00:00.000Z")
        shown = read_shown(FOLDER.parent, yard.checklist)
        keep_drawings(connection, yard.checklist.hash, shown)
    yard.phone = Phone(yard.checklist)
    yard.headers = yard.pair(yard.phone.device_id)
    return yard


def list_drawn(html: str) -> list[str]:
    """Names of the shipped pictures that a page shows, by their first stroke."""
    shown = re.findall(r'class="fault-picture">(<svg.*?</svg>)', html, re.DOTALL)
    assert all('aria-hidden="true"' in one and " id=" not in one for one in shown)
    strokes = [re.search(r' d="([^"]*)"', one)[1] for one in shown]
    return [
        next(
            name
            for name in LOOKS.values()
            if f' d="{stroke}"' in (FOLDER / f"{name}.svg").read_text(encoding="utf-8")
        )
        for stroke in strokes
    ]


def push_wide(yard, stove="B1-001", *, edge="pass", photos=(), **answer):
    event = yard.phone.inspect(stove, width="106", edge=edge, disposition="rework")
    event["body"]["answers"]["door-opening-width"] |= {**answer, "photos": list(photos)}
    yard.push(yard.phone.seal("inspection", stove, event["body"], photos=list(photos)))


def test_card_of_a_stove_shows_each_fault_that_was_named(yard):
    push_wide(yard, edge="fail", more_faults=["bad"])
    page = yard.client.get("/stoves/finished/B1-001").text
    assert list_drawn(page) == ["opening-too-wide", "edge-torn"]
    cards = page.split('class="fault-card"')[1:]
    assert ["fault-picture" in card for card in cards] == [False, True], "the other names none"


def test_trainer_sees_the_commonest_faults_of_a_step_and_where_no_photo_shows_it(yard):
    for n in range(ENOUGH_TO_TEACH):
        push_wide(yard, f"B1-00{n}", photos=[NAME])
    for page in ("/trainer", "/trainer/steps/small-stove/cut-door-opening"):
        assert list_drawn(yard.client.get(page).text) == ["opening-too-wide"], page
    assert list_drawn(yard.client.get("/trainer/steps/small-stove/turn-edge").text) == []
    send_whole(yard, JPEG)
    page = yard.client.get("/trainer").text
    assert list_drawn(page) == [] and f'src="/photos/{NAME}"' in page
