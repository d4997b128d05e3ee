"""The skill sheet on the page and on paper: set by a tap, each tap a record."""

import io
import re

import pytest
from pypdf import PdfReader

from qcapp.store import log
from tests.builders import open_yard
from tests.page_text import text_of


@pytest.fixture
def yard():
    yard = open_yard()
    yard.push(*(yard.phone.inspect(f"B1-{n:03}", maker="A01") for n in range(12)))
    return yard


def tap(yard, name):
    """The button of this name, as the page has it now."""
    page = yard.client.get("/trainer/skills").text
    found = re.search(rf'value="([^"]*)" aria-pressed="(\w+)" aria-label="{name}"', page)
    answer = yard.client.post("/trainer/skills", data={"set": found[1]}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def list_records(yard):
    with yard.store.reading() as connection:
        return [
            (event["inspector"], event["body"]["artisan"], event["body"]["level"])
            for event in log.list_by_kind(connection, "skill")
        ]


@pytest.mark.both_engines
def test_tap_sets_a_skill_a_second_takes_it_back_and_all_stays_in_the_records(yard):
    shown = tap(yard, "Ano, Cut the door opening: teaches")
    assert shown == "/trainer/skills?open=cut-door-opening#s-cut-door-opening"
    page = yard.client.get(shown).text
    assert re.findall(r'<details class="fold skill" id="s-([\w-]+)" open>', page) == [
        "cut-door-opening"
    ], "the step in which was tapped stays open"
    tap(yard, "Beda, Cut the door opening: learning")
    page = text_of(yard.client.get("/trainer/skills"))
    assert "Whom to pair Cut the door opening : Ano with Beda" in page
    assert "teaches, 2026-11-25, LEAD 0 of 12" in page
    assert "Cut the door opening A01 A02 learning: 1, teaches: 1 Ano A01" in page
    tap(yard, "Ano, Cut the door opening: teaches")
    assert "Whom to pair" not in text_of(yard.client.get("/trainer/skills"))
    assert list_records(yard) == [
        ("LEAD", "A01", "teaches"),
        ("LEAD", "A02", "learning"),
        ("LEAD", "A01", None),
    ]
    assert "set how far an artisan is with a step" in text_of(yard.client.get("/yard/trail"))


@pytest.mark.parametrize(
    "given",
    [
        "A99 cut-door-opening teaches",
        "A01 nothing teaches",
        "A01 cut-door-opening best",
        "A01",
        " ",
    ],
)
def test_what_is_not_on_the_sheet_is_refused(yard, given):
    assert yard.client.post("/trainer/skills", data={"set": given}).status_code == 400
    assert list_records(yard) == []


def test_sheet_prints_on_one_page_across(yard):
    tap(yard, "Ano, Cut the door opening: teaches")
    tap(yard, "Beda, Cut the door opening: learning")
    (page,) = PdfReader(io.BytesIO(yard.client.get("/trainer/skills.pdf").content)).pages
    size = [round(float(side) * 25.4 / 72) for side in page.mediabox[2:]]
    assert size == [297, 210]
    words = " ".join(page.extract_text().split())
    assert "Ano with Beda" in words and "teaches 2026-11-25 0/12" in words
