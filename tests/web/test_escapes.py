"""What each stage let through, from pushed records to the page, recounted from the events."""

import random
import re

import pytest

from qcapp.checklist.model import Checklist
from qcapp.stats.proportion import wilson_interval
from qcapp.store.registry.checklists import publish_checklist
from tests.builders import Phone, build_small_checklist, open_yard
from tests.page_text import text_of
from tests.web.test_two_checklists import OTHER_PHONE, build_liner

pytestmark = pytest.mark.both_engines

WIDTH = "door-opening-width"
CAUGHT = {WIDTH: {"fired-liner": [WIDTH]}, "sharp-edge": {"fired-liner": ["sharp-edge", "dents"]}}
COUNT = 120


def build_stove() -> Checklist:
    """The small stove, which goes on from liners that should have caught what it finds."""
    compiled = build_small_checklist(2).compiled() | {"made_from": ["fired-liner"]}
    for check in compiled["checks"]:
        if check["id"] in CAUGHT:
            check["should_be_caught_by"] = CAUGHT[check["id"]]
    return Checklist.from_compiled(compiled)


class LinkedYard:
    """Liners and stoves at random; what is true of each is kept beside, as plain words."""

    def __init__(self, seed):
        self.rng = random.Random(seed)
        self.yard = open_yard()
        stove, liner = build_stove(), build_liner("fired-liner")
        with self.yard.store.writing() as connection:
            for one in (stove, liner):
                publish_checklist(connection, one, origin="file", now="2026-11-01T00:00:00.000Z")
        self.phones = {"finished": Phone(stove), "fired-liner": Phone(liner, OTHER_PHONE)}
        self.events = []

    def inspect(self, stage, serial, day, made_from=None):
        """One inspection with faults at random; gives which checks failed."""
        wide, sharp, dented = (self.rng.random() < share for share in (0.25, 0.2, 0.15))
        middle = 110 if stage == "fired-liner" else 100
        phone = self.phones[stage]
        at = f"2026-11-{day:02}T{8 + self.rng.randrange(9):02}:00:00.000Z"
        body = phone.inspect(
            serial,
            width=str(middle + 6 if wide else middle),
            edge="fail" if sharp else "pass",
            dents="fail" if dented else "pass",
            disposition="rework" if wide or sharp or dented else "release",
            at=at,
        )["body"]
        more = {"made_from": {"fired-liner": made_from}} if made_from else {}
        self.events.append(phone.seal("inspection", serial, body | more, at=at, stage=stage))
        return {WIDTH: wide, "sharp-edge": sharp, "dents": dented}

    def fill(self):
        """{stove: what its liner last showed, what it showed itself first}; only linked ones."""
        truth = []
        for n in range(COUNT):
            seen = [self.inspect("fired-liner", f"L{n:03}", 2)]
            if any(seen[0].values()) and self.rng.random() < 0.6:
                seen.append(self.inspect("fired-liner", f"L{n:03}", 4))
            linked = self.rng.random() < 0.7
            first = self.inspect("finished", f"B1-{n:03}", 8, f"L{n:03}" if linked else None)
            if any(first.values()):
                self.inspect("finished", f"B1-{n:03}", 10)
            if linked:
                truth.append((seen[-1], first))
        for start in range(0, len(self.events), 90):
            answer = self.yard.push(*self.events[start : start + 90])
            assert {result["outcome"] for result in answer["results"]} == {"created"}
        return truth


@pytest.fixture(scope="module")
def filled():
    found = LinkedYard("escapes")
    return found.yard, found.fill()


def recount(truth):
    """{later check: (let through, passed and looked at again)}, and the same of whole pieces."""
    by_check = {WIDTH: [0, 0], "sharp-edge": [0, 0]}
    pieces = [0, 0]
    for liner, stove in truth:
        passed = []
        if not liner[WIDTH]:
            passed.append(WIDTH)
        if not liner["sharp-edge"] and not liner["dents"]:
            passed.append("sharp-edge")
        for check in passed:
            by_check[check][1] += 1
            by_check[check][0] += stove[check]
        pieces[1] += bool(passed)
        pieces[0] += any(stove[check] for check in passed)
    return by_check, pieces


def test_rates_are_those_recounted_from_what_was_pushed(filled):
    yard, truth = filled
    by_check, (escaped, followed) = recount(truth)
    (stage,) = yard.client.get("/api/trainer/escapes").json()
    assert stage["checklist"] == "small-liner"
    assert (stage["rate"]["failed"], stage["rate"]["inspected"]) == (escaped, followed)
    interval = wilson_interval(escaped, followed)
    assert stage["rate"]["interval"]["low"] == pytest.approx(interval.low)
    assert stage["faults"] == sum(failed for failed, _of in by_check.values())
    told = {one["later"][1]: one["rate"] for one in stage["checks"]}
    assert {name: [one["failed"], one["inspected"]] for name, one in told.items()} == by_check
    assert 0 < escaped < stage["faults"] + 1 <= followed


def test_page_and_table_say_the_same_once_with_count_and_interval(filled):
    yard, truth = filled
    _by_check, (escaped, followed) = recount(truth)
    page = text_of(yard.client.get("/trainer/escapes"))
    assert re.search(rf"Small liner {escaped} of {followed} \d+ % \(\d+ % to \d+ %\)", page)
    assert page.count("The stage that counts is the last one that looked") == 1
    table = yard.client.get("/trainer/tables/escapes.csv").text.splitlines()
    assert table[1].startswith(f"small-liner,,,,{escaped},{followed},")


def test_filters_are_of_the_later_inspection(filled):
    """The liners were inspected days before: the earlier stage of what is in the filter."""
    yard, truth = filled
    _by_check, pieces = recount(truth)
    (stage,) = yard.client.get("/api/trainer/escapes?since=2026-11-08").json()
    assert [stage["rate"]["failed"], stage["rate"]["inspected"]] == pieces
    (stage,) = yard.client.get("/api/trainer/escapes?until=2026-11-07").json()
    assert stage["rate"]["inspected"] == 0


def test_where_no_record_links_anything_the_page_says_so():
    found = LinkedYard("none")
    found.inspect("fired-liner", "L001", 2)
    found.inspect("finished", "B1-001", 8)
    found.yard.push(*found.events)
    page = text_of(found.yard.client.get("/trainer/escapes"))
    assert "nobody can tell what a stage let through" in page and "0 of 0" not in page
