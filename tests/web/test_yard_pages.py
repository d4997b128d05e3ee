"""The lead's pages of the first hour: name, sizes, people, crew, batches;
what is refused keeps what was typed and says what to do.
"""

import dataclasses
import html
import json
import re

import pytest

from qcapp.store import log
from qcapp.store.registry import batches, people
from qcapp.store.registry.yard_facts import YardFacts, load_yard_facts
from qcapp.usecases.yard_state import load_state
from tests.builders import NOW, make_cookie, open_client, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines
PERSON = {"code": "A07", "name": "Efa", "trades": "metalwork", "started_on": "2026-03-31"}
BATCH = {
    "code": "B7",
    "title": "",
    "size": "medium",
    "planned": "12",
    "crew.metalwork": "A01",
    "checklist_ids": "small-stove",
    "opened_on": "2026-11-25",
    "serial_prefix": "",
}


@pytest.fixture
def yard():
    return open_yard()


def read(yard, load):
    with yard.store.reading() as connection:
        return load(connection)


def find_batch(yard, code):
    return read(yard, lambda connection: batches.find_batch(connection, code))


def list_deeds(yard):
    rows = read(yard, lambda connection: log.list_trail(connection, before=2**53, limit=50))
    bodies = [json.loads(row.raw)["body"] for row in rows]
    return [(body["action"], body["about"]) for body in bodies]


def send(yard, address, values, status=200):
    answer = yard.client.post(address, data=values)
    assert answer.status_code == status, text_of(answer)
    return answer


def test_name_stands_on_pages_phones_and_greeting_as_soon_as_it_is_given(yard):
    before = yard.client.get("/api/sync/hello").json()["reference_tag"]
    assert "Test yard" in yard.client.get("/").text, "the setting holds until the lead gives a name"
    send(yard, "/yard/name", {"name": " Upper <yard> "})
    assert "Upper &lt;yard&gt;" in yard.client.get("/batches").text
    assert yard.client.get("/api/sync/reference", headers=yard.headers).json()["yard"] == {
        "name": "Upper <yard>"
    }
    assert yard.client.get("/api/sync/hello").json()["reference_tag"] != before, (
        "phones learn that something changed"
    )
    assert ("yard_named", {}) in list_deeds(yard)


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\u0007b"])
def test_name_that_is_none_changes_nothing_and_stays_typed(yard, name):
    answer = send(yard, "/yard/name", {"name": name}, 400)
    assert "Write 1 to 80 characters" in text_of(answer) and 'aria-invalid="true"' in answer.text
    assert read(yard, load_yard_facts).name == "" and list_deeds(yard) == []


def test_sizes_and_checklists_are_kept_and_named_when_they_do_not_fit(yard):
    assert "No size is ticked" in text_of(
        send(yard, "/yard/work", {"checklist_ids": "small-stove"}, 400)
    )
    answer = send(yard, "/yard/work", {"sizes": "huge", "checklist_ids": "small-stove"}, 400)
    assert "small-stove has no limits for: huge" in text_of(answer)
    send(yard, "/yard/work", {"sizes": "medium", "checklist_ids": "small-stove"})
    facts = read(yard, load_yard_facts)
    assert (facts.sizes, facts.checklist_ids) == (("medium",), ("small-stove",))
    assert 'name="sizes" value="medium" checked' in yard.client.get("/yard/work").text


def test_person_is_added_changed_and_reaches_phones(yard):
    send(yard, "/yard/people", PERSON)
    send(
        yard,
        "/yard/people/A07",
        {"name": "Efa B", "is_inspector": "on", "trades": "metalwork", "started_on": ""},
    )
    found = {
        one["code"]: one
        for one in yard.client.get("/api/sync/reference", headers=yard.headers).json()["people"]
    }
    assert found["A07"] == {
        "code": "A07",
        "name": "Efa B",
        "trades": ["metalwork"],
        "started_on": None,
        "is_inspector": True,
    }
    deeds = list_deeds(yard)
    assert ("person_added", {"person": "A07"}) in deeds and (
        "person_changed",
        {"code": "A07"},
    ) in deeds
    assert "Efa" not in json.dumps(deeds), "a name never stands in the trail"


def list_chosen(yard):
    """The people as phones get them, by code."""
    return {
        one["code"]: one
        for one in yard.client.get("/api/sync/reference", headers=yard.headers).json()["people"]
    }


def test_whoever_left_is_offered_nowhere_and_every_record_stays(yard):
    send(yard, "/yard/people", {**PERSON, "is_inspector": "on"})
    send(yard, "/yard/crew", {"crew.metalwork": "A07"})
    tag = yard.client.get("/api/sync/hello").json()["reference_tag"]
    send(
        yard,
        "/yard/people/A07",
        {"name": "Efa", "trades": "metalwork", "is_inspector": "on", "has_left": "on"},
    )
    assert list_chosen(yard)["A07"] == {
        "code": "A07",
        "name": "Efa",
        "trades": [],
        "started_on": None,
        "is_inspector": False,
    }
    assert yard.client.get("/api/sync/hello").json()["reference_tag"] != tag, (
        "phones learn that something changed"
    )
    assert (
        "has left" in text_of(yard.client.get("/yard/people"))
        and 'name="has_left" value="on" checked' in yard.client.get("/yard/people/A07").text
    )
    assert "Nobody is chosen yet for: metalwork" in text_of(yard.client.get("/yard/crew")), (
        "a crew without its person is asked for again"
    )
    assert (
        "(A07)" not in yard.client.get("/yard/batches").text
        and 'value="A07"' not in yard.client.get("/yard/studies").text
    )
    assert "A07 does not have the trade metalwork" in text_of(
        send(yard, "/yard/crew", {"crew.metalwork": "A07"}, 400)
    )
    late = yard.push(yard.phone.inspect("B1-001", inspector="A07", maker="A07"))
    assert late["results"][0]["outcome"] == "created", "a record made before the phone heard of it"
    send(yard, "/yard/people/A07", {"name": "Efa", "trades": "metalwork", "is_inspector": "on"})
    assert list_chosen(yard)["A07"]["trades"] == ["metalwork"], (
        "whoever comes back is offered again"
    )


def test_whoever_left_is_still_named_for_stoves_of_an_open_batch(yard):
    send(yard, "/yard/people", PERSON)
    send(yard, "/yard/batches", {**BATCH, "crew.metalwork": "A07"})
    send(
        yard,
        "/yard/people/A07",
        {"name": "Efa", "trades": ["metalwork", "clay"], "has_left": "on"},
    )
    assert list_chosen(yard)["A07"]["trades"] == ["metalwork"]
    assert '<option value="A07" selected>' in yard.client.get("/yard/batches/B7").text, (
        "the batch can be changed without changing its crew"
    )
    send(yard, "/yard/batches/B7/close", {"is_sure": "true"})
    assert list_chosen(yard)["A07"]["trades"] == []


def test_a_person_may_have_a_trade_whose_work_the_yard_does_not_check_yet(yard):
    def step(trade):
        return {"trade": trade, "title": {"en": trade}}

    state = dataclasses.replace(
        read(yard, load_state),
        facts=YardFacts(checklist_ids=("stove",)),
        current=[
            {"id": "stove", "steps": [step("metalwork")]},
            {"id": "liner", "steps": [step("clay")]},
        ],
    )
    assert (list(state.trades), list(state.all_trades)) == (["metalwork"], ["metalwork", "clay"])


def test_code_left_empty_is_the_next_free_one(yard):
    send(yard, "/yard/people", {**PERSON, "code": ""})
    send(yard, "/yard/people", {"code": "", "name": "Fio", "is_inspector": "on"})
    assert [one["code"] for one in read(yard, people.list_people)] == [
        "A01",
        "A02",
        "A03",
        "I01",
        "I02",
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"code": "A01"}, "A01 is already Ano"),
        ({"code": "a b"}, "This is not a valid code"),
        ({"name": ""}, "A name is needed"),
        ({"started_on": "soon"}, "This is not a day"),
        ({"trades": None}, "Tick what this person does"),
        ({"trades": "juggling"}, "Tick what this person does"),
    ],
)
def test_person_that_does_not_fit_is_not_saved_and_stays_typed(yard, change, says):
    typed = {key: value for key, value in {**PERSON, **change}.items() if value is not None}
    before = read(yard, people.list_people)
    answer = send(yard, "/yard/people", typed, 400)
    assert says in text_of(answer) and html.escape(typed["name"]) in answer.text
    assert read(yard, people.list_people) == before and list_deeds(yard) == []


def test_crew_names_who_has_the_trade_and_fills_the_next_batch(yard):
    assert "Nobody is chosen for metalwork" in text_of(send(yard, "/yard/crew", {}, 400))
    assert "I01 does not have the trade metalwork" in text_of(
        send(yard, "/yard/crew", {"crew.metalwork": "I01"}, 400)
    )
    send(yard, "/yard/crew", {"crew.metalwork": "A02"})
    assert '<option value="A02" selected>' in yard.client.get("/yard/batches").text
    send(yard, "/yard/crew", {"crew.metalwork": "-"})
    assert read(yard, load_yard_facts).crew == {"metalwork": ""}


def test_batch_is_opened_closed_and_opened_again(yard):
    send(yard, "/yard/batches", BATCH)
    batch = find_batch(yard, "B7")
    assert (batch["title"], batch["serial_prefix"], batch["planned"], batch["crew"]) == (
        "B7",
        "B7-",
        12,
        {"metalwork": "A01"},
    )
    assert batch["attributes"] == {"checked_serials": False} and batch["checklist_ids"] == [
        "small-stove"
    ]
    asked = yard.client.post("/yard/batches/B7/close", data={}, follow_redirects=False)
    assert asked.headers["location"] == "/yard/batches/B7/close"
    assert find_batch(yard, "B7")["closed_at"] is None
    page = text_of(yard.client.get("/yard/batches/B7/close"))
    assert "12 stoves were not inspected" in page and "Close it all the same" in page
    send(yard, "/yard/batches/B7/close", {"is_sure": "true"})
    undo = yard.client.get("/yard/batches?closed=B7")
    assert "Batch B7 is closed. Undo" in text_of(undo)
    offered = {
        one["code"]: one["is_open"]
        for one in yard.client.get("/api/sync/reference", headers=yard.headers).json()["batches"]
    }
    assert offered["B7"] is False and find_batch(yard, "B7")["closed_at"] == NOW.isoformat(
        timespec="milliseconds"
    ).replace("+00:00", "Z")
    send(yard, "/yard/batches/B7/reopen", {})
    assert find_batch(yard, "B7")["closed_at"] is None
    assert [
        audit_message for audit_message, about in list_deeds(yard) if "B7" in about.values()
    ] == [
        "batch_reopened",
        "batch_closed",
        "batch_opened",
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"code": "B1"}, "There is already a batch B1"),
        ({"code": ""}, "This is not a valid code"),
        ({"size": ""}, "No size is chosen"),
        ({"size": "huge"}, "No size is chosen"),
        ({"planned": "a few"}, "This is not a number of stoves"),
        ({"planned": "0"}, "This is not a number of stoves"),
        ({"planned": "٣"}, None),
        ({"crew.metalwork": "I01"}, "I01 does not have the trade metalwork"),
        ({"checklist_ids": None}, "No checklist is ticked"),
        ({"checklist_ids": ["small-stove", "other"]}, "other has no limits for the size medium"),
        ({"opened_on": "31.3."}, "This is not a day"),
        ({"serial_prefix": "x" * 21}, "at most 20 characters"),
    ],
)
def test_batch_that_does_not_fit_is_not_saved_and_stays_typed(yard, change, says):
    typed = {key: value for key, value in {**BATCH, **change}.items() if value is not None}
    if says is None:
        send(yard, "/yard/batches", typed)
        assert find_batch(yard, "B7")["planned"] == 3, "digits of another script are digits"
        return
    answer = send(yard, "/yard/batches", typed, 400)
    assert says in text_of(answer) and f'value="{typed["planned"]}"' in answer.text
    assert find_batch(yard, "B7") is None and list_deeds(yard) == []


def test_stoves_inspected_are_counted_once_whatever_was_looked_at_before(yard):
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", disposition="rework"),
        yard.phone.inspect("B1-001", stage="fired-liner"),
    )
    row = re.search(r'scope="row">B1.*?</tr>', yard.client.get("/yard/batches").text, re.DOTALL)[0]
    assert ">2, 1 fired liner<" in row


def test_size_of_a_batch_stays_once_stoves_were_inspected(yard):
    fields = {key: value for key, value in BATCH.items() if key != "code"}
    send(yard, "/yard/batches/B1", {**fields, "planned": "30"})
    kept = find_batch(yard, "B1")
    assert kept["planned"] == 30 and kept["attributes"]["painted"] is False, (
        "what no check asks for is kept"
    )
    yard.push(yard.phone.inspect("B1-001"))
    with yard.store.writing() as connection:
        batches.save_batches(connection, [{**kept, "size": "other"}])
    assert "Keep the size" in text_of(send(yard, "/yard/batches/B1", fields, 400))


def test_guide_says_what_is_missing_and_ends_when_all_is_there(yard):
    page = text_of(yard.client.get("/yard/start"))
    # People, an open batch and a phone are there from the builder.
    assert (
        "3 of 7 done" in page
        and "The yard has no name yet." in page
        and "Nobody is chosen yet for: metalwork" in page
    )
    assert "Next: Sizes and checklists" in text_of(yard.client.get("/yard/name"))
    assert "Set up the yard" in text_of(yard.client.get("/"))
    send(yard, "/yard/name", {"name": "Upper"})
    send(yard, "/yard/work", {"sizes": "medium", "checklist_ids": "small-stove"})
    send(yard, "/yard/crew", {"crew.metalwork": "A01"})
    last = send(yard, "/yard/practice", {})
    assert last.url.path == "/yard/start" and "7 of 7 done" in text_of(last)
    assert "Setting up the yard" not in yard.client.get(
        "/yard/people"
    ).text and "Set up the yard" not in text_of(yard.client.get("/"))


def test_guide_can_be_put_away_and_found_again(yard):
    send(yard, "/yard/start/end", {})
    assert "Setting up the yard" not in yard.client.get("/yard/name").text
    assert "3 of 7 done" in text_of(yard.client.get("/yard/start"))


def test_trainer_sees_neither_guide_nor_its_doors(yard):
    trainer = open_client(
        yard.client.app, cookie=make_cookie(yard.store, code="T01", role="trainer")
    )
    assert (
        trainer.get("/yard/start").status_code == 403 and "/yard/start" not in trainer.get("/").text
    )
    assert (
        trainer.post("/yard/batches", data=BATCH).status_code == 403
        and find_batch(yard, "B7") is None
    )
