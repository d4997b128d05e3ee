"""Pull: rows of other phones, in log order, from a cursor that cannot lie."""

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist, list_shown
from qcapp.store.registry.checklists import publish_checklist
from qcapp.sync.reference import build_reference
from tests.builders import ROOT, Phone, open_yard

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


def read_reference(store, drawings):
    return build_reference(store, yard_name="Test yard", drawings=drawings)


def test_reference_brings_the_pictures_in_use_and_no_other(yard):
    drawings = {
        "round-stove.svg": "<svg/>",
        "kiln.svg": "<svg/>",
        "pictures/tape.svg": "<svg><path/></svg>",
        "pictures/tape-slack.svg": "<svg><path/><path/></svg>",
        "pictures/idle.svg": "<svg/>",
    }
    assert set(read_reference(yard.store, drawings)["drawings"]) == {"round-stove.svg"}
    pictured = build_with_picture(yard.checklist, "tape")
    with yard.store.writing() as connection:
        publish_checklist(connection, pictured, origin="file", now="2026-11-02T00:00:00.000Z")
    before = read_reference(yard.store, drawings)
    assert before["drawings"] == {
        name: drawings[name]
        for name in ("round-stove.svg", "pictures/tape.svg", "pictures/tape-slack.svg")
    }
    redrawn = read_reference(yard.store, {**drawings, "pictures/tape.svg": "<svg><circle/></svg>"})
    assert redrawn["tag"] != before["tag"], "phones fetch the new picture"
    assert redrawn["checklists"] == before["checklists"], "and it is the same revision"


def test_shipped_pictures_are_known_to_a_server(yard):
    known = yard.client.app.state.drawings
    shown = [
        list_shown(load_checklist(path).compiled()) for path in (ROOT / "checklists").glob("*.yaml")
    ]
    assert shown and set().union(*shown) <= set(known)


def test_relayed_events_keep_their_phone(yard):
    other = Phone(yard.checklist, device_id=OTHER)
    yard.push(other.inspect("B1-001"))
    assert pull(yard, yard.headers)["events"][0]["event"]["device_id"] == OTHER
