"""The page of one stove: every stage that records join, who did and decided what, what was let
through; nobody but those who lead and teach the yard.
"""

import re

import pytest

from tests.builders import make_cookie, open_client
from tests.page_text import text_of
from tests.web.test_escapes import LinkedYard

pytestmark = pytest.mark.both_engines


class Told(LinkedYard):
    """One liner, its stove, both as told and not by chance."""

    def tell(self, stage, serial, day, *, made_from=None, **more):
        middle = 110 if stage == "fired-liner" else 100
        given = {"width": str(middle)} | more
        at = f"2026-11-{day:02}T08:00:00.000Z"
        event = self.phones[stage].inspect(serial, at=at, stage=stage, **given)
        body = event["body"] | ({"made_from": made_from} if made_from else {})
        event = self.phones[stage].seal("inspection", serial, body, at=at, stage=stage)
        self.events.append(event)
        return event

    def push(self):
        assert {one["outcome"] for one in self.yard.push(*self.events)["results"]} == {"created"}
        self.events = []

    def page(self, stage="finished", serial="B1-007"):
        answer = self.yard.client.get(f"/stoves/{stage}/{serial}")
        assert answer.status_code == 200
        return text_of(answer)


@pytest.fixture
def told():
    return Told("way")


def test_page_joins_liner_and_stove_and_names_people_faults_readings_and_corrections(told):
    told.tell("fired-liner", "L7", 2)
    first = told.tell(
        "finished", "B1-007", 8, made_from={"fired-liner": "L7"}, width="106", disposition="rework"
    )
    told.tell("finished", "B1-007", 9, maker="A02")
    told.push()
    told.events = [told.phones["finished"].correct(first, first["body"], reason="typed by another")]
    told.push()
    for page in (told.page(), told.page("fired-liner", "L7")):
        assert "Stages with a record: 2. Faults at first inspections: 1." in page
        assert page.index("Small liner: L7") < page.index("Small stove: B1-007")
        assert "2026-11-08 08:00 UTC: rework" in page and "2026-11-09 08:00 UTC: release" in page
        assert page.count("Inspected and decided by Ciro (I01)") == 3
        assert "Beda (A02) Turn the edge, Cut the door opening" in page
        assert "✗ Too large" in page and "3 mm too much" in page
        assert re.search(r"door-opening-width 106 97 to 103 mm, target 100 fail", page)
        assert re.search(r"Liner: door opening width 110 107 to 113 mm", page)
        assert "corrected by Ciro (I01): typed by another" in page
        # One line, with what the earlier stage is charged with.
        assert page.count("Let through: “door-opening-width” failed at Small stove; the stage") == 1
        assert "Small liner had passed it on 2026-11-02." in page


def test_a_pass_that_lasted_is_said_too_and_an_unjoined_stove_says_that_it_is(told):
    told.tell("fired-liner", "L7", 2)
    told.tell("finished", "B1-007", 8, made_from={"fired-liner": "L7"})
    told.tell("finished", "B1-008", 8, made_from={"fired-liner": "L9"})
    told.push()
    page = told.page()
    assert "what an earlier stage passed was still good at 2 checks" in page
    alone = told.page(serial="B1-008")
    assert "No record joins this to another stage" in alone
    assert "Named in a record, but nobody inspected it: L9 (fired liner)" in alone


def test_two_stoves_that_claim_one_liner_are_shown_apart_and_each_names_the_other(told):
    told.tell("fired-liner", "L7", 2)
    for serial in ("B1-007", "B1-008"):
        bad = {"width": "106", "disposition": "rework"}
        told.tell("finished", serial, 8, made_from={"fired-liner": "L7"}, **bad)
    told.push()
    page = told.page()
    assert "cannot all be true" in page and "B1-008 (finished)" in page
    assert "Stages with a record: 1." in page and "Let through: “" not in page


def test_photos_are_shown_once_and_what_is_on_its_way_is_said(told):
    event = told.tell("finished", "B1-007", 8, width="106", disposition="rework")
    answers = event["body"]["answers"]
    answers["door-opening-width"]["photos"] = ["ab" * 32]
    event = told.phones["finished"].seal(
        "inspection", "B1-007", event["body"], at="2026-11-09T08:00:00.000Z", photos=["ab" * 32]
    )
    told.events = [event]
    told.push()
    assert told.page().count("Photo on its way") == 1


def test_serial_is_found_however_it_was_typed_and_an_unknown_one_is_refused(told):
    told.tell("finished", "B1-007", 8)
    told.push()
    found = told.yard.client.get("/stoves?serial=b1-7", follow_redirects=False)
    assert found.status_code == 303 and found.headers["location"].startswith("/stoves/finished/")
    assert "Small stove B1-007" in text_of(told.yard.client.get(found.headers["location"]))
    assert told.yard.client.get("/stoves?serial=X9").status_code == 404
    assert told.yard.client.get("/stoves/finished/X9").status_code == 404


@pytest.mark.parametrize(("role", "status"), [("trainer", 200), ("programme_lead", 403)])
def test_who_may_open_it(told, role, status):
    told.tell("finished", "B1-007", 8)
    told.push()
    client = open_client(
        told.yard.client.app, cookie=make_cookie(told.yard.store, code="R1", role=role)
    )
    assert client.get("/stoves/finished/B1-007").status_code == status
