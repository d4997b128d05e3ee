"""Pull: rows of other phones, in log order, from a cursor that cannot lie."""

import pytest

from qcapp.checklist.model import Checklist
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.drawings import keep_drawings
from qcapp.sync.reference import build_reference
from tests.builders import Phone, open_yard

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9"/></svg>'
OTHER = "0197f000-0000-7000-8000-0000000000bb"


@pytest.fixture
def yard():
    return open_yard()


def pull(yard, headers, cursor="", limit=200):
    return yard.client.get(
        "/api/sync/pull", params={"cursor": cursor, "limit": limit}, headers=headers
    ).json()


def test_own_events_do_not_come_back(yard):
    event = yard.phone.inspect("B1-001")
    yard.push(event)
    assert pull(yard, yard.headers)["events"] == []
    assert [row["event"]["id"] for row in pull(yard, yard.pair(OTHER))["events"]] == [event["id"]]


def test_a_phone_under_a_new_id_gets_what_it_made_under_its_tokens_id(yard):
    event = yard.phone.inspect("B1-001")
    yard.push(event)
    answer = yard.client.get(
        "/api/sync/pull", params={"device": OTHER}, headers=yard.headers
    ).json()
    assert [row["event"]["id"] for row in answer["events"]] == [event["id"]]


def test_pages_give_every_row_once(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(7)))
    headers, cursor, seen = yard.pair(OTHER), "", []
    for _ in range(10):
        answer = pull(yard, headers, cursor, limit=3)
        seen += [row["seq"] for row in answer["events"]]
        cursor = answer["cursor"]
        if not answer["more"]:
            break
    assert seen == [1, 2, 3, 4, 5, 6, 7]
    assert pull(yard, headers, cursor)["events"] == []


@pytest.mark.parametrize(
    "cursor", ["99:0123456789abcdef", "1:0000000000000000", "x", "1", "1:", "٣:00"]
)
def test_cursor_not_of_this_log_is_diverged(yard, cursor):
    yard.push(yard.phone.inspect("B1-001"))
    answer = pull(yard, yard.pair(OTHER), cursor)
    assert answer["lineage"] == "diverged" and answer["cursor"] == ""


def test_reference_is_answered_by_its_tag(yard):
    first = yard.client.get("/api/sync/reference", headers=yard.headers)
    assert first.status_code == 200
    data = first.json()
    assert [batch["code"] for batch in data["batches"] if batch["is_open"]] == ["B1"]
    assert data["checklists"][0]["hash"] == yard.checklist.hash
    assert "<svg" in data["drawings"]["round-stove.svg"]
    again = yard.client.get(
        "/api/sync/reference", headers={**yard.headers, "If-None-Match": first.headers["etag"]}
    )
    assert again.status_code == 304
    hello = yard.client.get("/api/sync/hello").json()
    assert hello["reference_tag"] == data["tag"] and hello["protocol"] == 1


def build_with_picture(checklist, name):
    compiled = checklist.compiled()
    compiled["revision"] += 1
    compiled["checks"][0]["picture"] = name
    compiled["checks"][1]["faults"][0]["picture"] = f"{name}-slack"
    return Checklist.from_compiled(compiled)


def publish(yard, checklist, shown):
    with yard.store.writing() as connection:
        publish_checklist(connection, checklist, origin="file", now="2026-11-02T00:00:00.000Z")
        keep_drawings(connection, checklist.hash, shown)


def read_reference(yard):
    return build_reference(yard.store, yard_name="Test yard")


def test_reference_brings_the_pictures_of_the_revision_in_use_and_no_other(yard):
    before = read_reference(yard)
    assert set(before["drawings"]) == {"round-stove.svg"}
    shown = {"round-stove.svg": SVG, "pictures/tape.svg": SVG.replace("h9", "v9")}
    publish(yard, build_with_picture(yard.checklist, "tape"), shown)
    after = read_reference(yard)
    assert after["drawings"] == shown and after["tag"] != before["tag"]
    # What a revision shows never changes; a new drawing goes with a new revision.
    publish(yard, build_with_picture(yard.checklist, "tape"), {"round-stove.svg": SVG + " "})
    assert read_reference(yard) == after


def test_two_checklists_may_show_another_drawing_under_one_name(yard):
    other = Checklist.from_compiled({**yard.checklist.compiled(), "id": "tall-stove"})
    publish(yard, other, {"round-stove.svg": SVG})
    data = read_reference(yard)
    first, second = data["checklists"]
    assert "drawings" not in first and data["drawings"]["round-stove.svg"] != SVG
    assert second["drawings"] == {"round-stove.svg": SVG}


def test_relayed_events_keep_their_phone(yard):
    other = Phone(yard.checklist, device_id=OTHER)
    yard.push(other.inspect("B1-001"))
    assert pull(yard, yard.headers)["events"][0]["event"]["device_id"] == OTHER
