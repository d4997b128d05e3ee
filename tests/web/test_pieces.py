"""One piece counts once: liners that stoves' records name, from pushed records to the page."""

import csv
import io
import random
import re

import pytest
from sqlalchemy import select

from qcapp.checklist.model import Checklist
from qcapp.store.projections import stove_projection
from qcapp.store.queries import exports
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.tables import MADE_FROM
from qcapp.store.upkeep.audit import audit_store
from tests.builders import Phone, build_small_checklist, open_yard
from tests.page_text import text_of
from tests.web.test_two_checklists import OTHER_PHONE, build_liner, crawl

pytestmark = pytest.mark.both_engines

STOVES, LINERS, LINKED = 61, 37, 20


def build_stove_checklist() -> Checklist:
    compiled = build_small_checklist(2).compiled()
    return Checklist.from_compiled(compiled | {"made_from": ["fired-liner"]})


class Making:
    """A yard that makes stoves of liners. Of liners every seventh, of stoves every fifth has too
    wide an opening.
    """

    def __init__(self):
        self.yard = open_yard()
        self.stove_checklist, self.liner_checklist = (
            build_stove_checklist(),
            build_liner("fired-liner"),
        )
        with self.yard.store.writing() as connection:
            for one in (self.stove_checklist, self.liner_checklist):
                publish_checklist(connection, one, origin="file", now="2026-11-01T00:00:00.000Z")
        self.stove_phone = Phone(self.stove_checklist)
        self.liner_phone = Phone(self.liner_checklist, OTHER_PHONE)

    def liner(self, n, **change):
        at = f"2026-11-{1 + n % 20:02}T08:00:00.000Z"
        is_bad = n % 7 == 0
        event = self.liner_phone.inspect(
            f"L{n:03}",
            width="116" if is_bad else "110",
            disposition="rework" if is_bad else "release",
            at=at,
        )
        return self.liner_phone.seal(
            "inspection", f"L{n:03}", event["body"], at=at, stage="fired-liner", **change
        )

    def stove(self, n, liner=None, **answers):
        at = f"2026-11-{2 + n % 20:02}T09:00:00.000Z"
        is_bad = n % 5 == 0
        chosen = {"width": "106", "disposition": "rework"} if is_bad else {}
        body = self.stove_phone.inspect(f"B1-{n:03}", **chosen, **answers, at=at)["body"]
        more = {"made_from": {"fired-liner": liner}} if liner else {}
        return self.stove_phone.seal("inspection", f"B1-{n:03}", body | more, at=at)

    def push(self, events):
        for start in range(0, len(events), 90):
            answer = self.yard.push(*events[start : start + 90])
            assert {result["outcome"] for result in answer["results"]} == {"created"}

    def report(self, query=""):
        return self.yard.client.get(f"/api/trainer/pieces{query}").json()

    def page(self):
        return text_of(self.yard.client.get("/trainer/pieces"))


def list_events(making):
    """Stove n is made of liner n, for the first LINKED of them."""
    liners = [making.liner(n) for n in range(LINERS)]
    stoves = [making.stove(n, f"L{n:03}" if n < LINKED else None) for n in range(STOVES)]
    return [*liners, *stoves]


@pytest.fixture(scope="module")
def making():
    found = Making()
    found.push(list_events(found))
    return found


def test_stages_pairs_and_product_are_those_counted_by_hand(making):
    (line,) = making.report()["lines"]
    good_liners = sum(n % 7 != 0 for n in range(LINERS))
    good_stoves = sum(n % 5 != 0 for n in range(STOVES))
    assert [
        (one["checklist"], one["articles"], one["left_out"], one["first_pass"]["good"])
        for one in line["stages"]
    ] == [("small-liner", LINERS, 0, good_liners), ("small-stove", STOVES, 0, good_stoves)]
    assert line["product"]["value"] == pytest.approx(good_liners / LINERS * good_stoves / STOVES)
    (pair,) = line["pairs"]
    bad = [(n % 7 == 0, n % 5 == 0) for n in range(LINKED)]
    assert (pair["pieces"], pair["both"]["good"], pair["both"]["of"]) == (
        LINKED,
        bad.count((False, False)),
        LINKED,
    )
    assert [pair[f"failed_{name}"] for name in ("earlier", "later", "twice")] == [
        bad.count((True, False)),
        bad.count((False, True)),
        bad.count((True, True)),
    ]
    assert line["unlinked"] == STOVES - LINKED


def test_a_step_seen_at_two_stages_counts_each_piece_once(making):
    works = {work["step"]: work for work in making.report()["works"]}
    cut = works["cut-door-opening"]
    bad = sum(n % 7 == 0 for n in range(LINERS)) + sum(n % 5 == 0 for n in range(STOVES))
    bad -= sum(n % 7 == 0 and n % 5 == 0 for n in range(LINKED))
    assert (cut["pieces"], cut["failed"], cut["twice"]) == (STOVES + LINERS - LINKED, bad, LINKED)
    page = making.page()
    assert "Cut the door opening : 37 liners and 61 stoves." in page
    assert "20 pieces are among these more than once, so they are 78 pieces." in page


def test_page_says_how_many_are_linked_and_what_failed_where(making):
    page = making.page()
    assert "Small liner 37 liners 31 of 37 84 %" in page
    assert "Linked with the stage Small liner: 20 stoves. Good at both: 14 of 20" in page
    assert "Failed there alone: 2; here alone: 3; at both: 1." in page
    assert "Linked to nothing earlier here: 41 stoves." in page


def test_no_page_adds_stoves_and_liners_up_or_calls_liners_stoves(making):
    added = re.compile(rf"\b{STOVES + LINERS} stoves\b")
    called = re.compile(rf"\b({STOVES + LINERS}|{LINERS}) stoves\b")
    for address, answer in crawl(making.yard).items():
        # An artisan's page and Teach next say stove for whatever was made.
        is_open = re.match(r"/trainer(/artisans.*|\?.*|)$", address)
        found = (added if is_open else called).search(text_of(answer))
        assert not found, (address, found)


def test_file_and_call_say_the_same(making):
    text = making.yard.client.get("/trainer/tables/pieces.csv").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    found = {(row["kind"], row["checklist"], row["step"]): row for row in rows}
    (line,) = making.report()["lines"]
    for kind, checklist, expected in (
        ("stage", "small-liner", line["stages"][0]["first_pass"]),
        ("linked", "small-stove", line["pairs"][0]["both"]),
        ("every", "small-stove", line["every"]),
    ):
        row = found[kind, checklist, ""]
        assert (int(row["good"]), int(row["of"])) == (expected["good"], expected["of"])
    step = found["step", "", "Cut the door opening"]
    assert int(step["of"]) == STOVES + LINERS - LINKED


def test_filters_narrow_both_ends(making):
    (line,) = making.report("?until=2026-11-05")["lines"]
    assert [one["articles"] for one in line["stages"]] == [10, 13]
    # Liner n is inspected a day before stove n.
    assert line["pairs"][0]["pieces"] == 4
    assert making.report("?batch=B0")["lines"] == []


def read_links(store):
    with store.reading() as connection:
        return sorted(tuple(row) for row in connection.execute(select(MADE_FROM)))


def test_links_are_the_same_in_any_order_and_after_a_rebuild(making):
    other = Making()
    events = list_events(other)
    random.Random(3).shuffle(events)
    other.push(events)
    assert read_links(other.yard.store) == read_links(making.yard.store)
    assert len(read_links(other.yard.store)) == LINKED
    assert other.report() == making.report()
    with other.yard.store.writing() as connection:
        stove_projection.rebuild(connection)
    assert read_links(other.yard.store) == read_links(making.yard.store)


def test_correction_and_void_take_a_link_back():
    making = Making()
    first, second = making.stove(1, "L001"), making.stove(2, "L002")
    making.push([making.liner(n) for n in (1, 2)] + [first, second])
    assert making.report()["lines"][0]["pairs"][0]["pieces"] == 2
    body = {name: value for name, value in first["body"].items() if name != "made_from"}
    making.push([making.stove_phone.correct(first, body), making.stove_phone.void(second)])
    assert read_links(making.yard.store) == []
    assert making.report()["lines"][0]["pairs"][0]["pieces"] == 0
    assert "No record links one of these to the stage Small liner." in making.page()


def test_what_cannot_be_true_is_shown_and_counts_as_not_linked():
    making = Making()
    making.push([*(making.liner(n) for n in (1, 2)), making.stove(1, "L001")])
    making.push([making.stove(2, "L001"), making.stove(3, "L002"), making.stove(4, "L999")])
    (line,) = making.report()["lines"]
    assert line["pairs"][0]["pieces"] == 1 and line["unlinked"] == 3
    page = making.page()
    assert "Cannot all be true" in page and "L001 (fired liner)" in page
    assert "B1-001 (finished) , B1-002 (finished)" in page
    assert "1 serial was entered for a piece that nobody inspected" in page
    assert "L999 (fired liner), in B1-004" in page


def test_the_piece_stands_in_the_record_held_back_and_in_the_file_of_stoves():
    making = Making()
    event = making.stove(1, "L001")
    making.push([making.stove(2, "L002")])
    body = event["body"] | {"crew": {"turn-edge": "A77"}}
    making.yard.push(making.stove_phone.seal("inspection", "B1-003", body))
    page = text_of(making.yard.client.get("/yard/quarantine/2"))
    assert "unknown artisan: A77" in page and "fired liner L001" in page
    with making.yard.store.reading() as connection:
        rows = exports.list_rows(connection, "stoves", "B1")
    (row,) = [dict(zip(exports.COLUMNS["stoves"], row, strict=True)) for row in rows]
    assert (row["serial"], row["made_from"]) == ("B1-002", "fired-liner/L002")


def test_a_stove_that_was_not_wholly_inspected_is_no_good_one():
    making = Making()
    making.push([making.liner(1), making.liner(2), making.stove(1, "L001")])
    partly = making.stove(2, "L002")
    body = partly["body"]
    answers = {name: value for name, value in body["answers"].items() if name != "dents"}
    body = body | {"answers": answers, "disposition": {"kind": "hold", "reason": "seen in part"}}
    making.push([making.stove_phone.seal("inspection", "B1-002", body)])
    (line,) = making.report()["lines"]
    stove = line["stages"][1]
    assert (stove["articles"], stove["left_out"], stove["first_pass"]["of"]) == (2, 1, 1)
    assert (line["pairs"][0]["pieces"], line["pairs"][0]["both"]["of"]) == (2, 1)
    assert "1 was not fully inspected at both and is left out." in making.page()


@pytest.mark.sqlite_only
def test_altered_link_is_found():
    making = Making()
    making.push([making.liner(1), making.stove(1, "L001")])
    with making.yard.store.writing() as connection:
        connection.execute(MADE_FROM.update().values(from_serial="L002"))
    assert "finished/B1-1" in str(audit_store(making.yard.store))
