"""Attacks by checklists: one that the yard never published must accept no stove."""

import json

import pytest

from qcapp.checklist.model import Checklist
from qcapp.store.registry import checklists
from qcapp.store.upkeep.audit import audit_store
from qcapp.usecases.rebuild_figures import rebuild_figures
from tests.builders import NOW, PHONE_IDS, Phone, build_small_checklist, open_yard
from tests.page_text import text_of
from tests.signing_phones import introduce, join_signing
from tests.store.test_projections import dump
from tests.sync.test_export_file import build_file, take

OTHER = "0197f000-0000-7000-8000-0000000000bb"
WHO = {"reason": "from our second yard"}


@pytest.fixture
def yard():
    return open_yard()


def build_harmless(yard) -> Checklist:
    """The yard's own with a higher number and without the check that can fail a stove."""
    compiled = yard.checklist.compiled()
    kept = [check for check in compiled["checks"] if check["id"] != "sharp-edge"]
    return Checklist.from_compiled({**compiled, "revision": 9, "checks": kept})


def make_record(checklist: Checklist, stove: str = "B1-001", device: str = OTHER) -> dict:
    answers = {"door-opening-width": {"values": ["100"]}, "dents": {"mark": "pass"}}
    phone = Phone(checklist, device)
    honest = Phone(build_small_checklist(), device).inspect(stove)
    body = {
        **honest["body"],
        "answers": answers,
        "verdicts": dict.fromkeys(answers, "pass"),
    }
    return phone.seal("inspection", stove, body)


def read_waiting_hash(yard) -> str:
    page = yard.client.get("/yard/quarantine").text
    return page.split("/yard/quarantine/checklists/")[1].split('"')[0]


def test_checklist_that_the_yard_never_published_is_held_back_until_the_lead_accepts_it(yard):
    for name in ("bb", "cc", "dd"):
        yard.signing.add(f"{PHONE_IDS}0000000000{name}")
        join_signing(yard.store, f"{PHONE_IDS}0000000000{name}", NOW)
    harmless = build_harmless(yard)
    answer = yard.push(make_record(harmless), definitions=[harmless.compiled()])
    (result,) = answer["results"]
    assert (result["outcome"], result["reason"]["code"]) == ("quarantined", "unpublished_checklist")
    assert dump(yard.store) == ([], [], [], [])
    # Named again it is as strange as the first time, and no phone is offered it.
    (again,) = yard.push(make_record(harmless, "B1-002", "0197f000-0000-7000-8000-0000000000cc"))[
        "results"
    ]
    assert again["outcome"] == "quarantined"
    offered = yard.client.get("/api/sync/reference", headers=yard.headers).text
    assert harmless.hash not in offered
    key = read_waiting_hash(yard)
    page = text_of(yard.client.get(f"/yard/quarantine/checklists/{key}"))
    assert "2 records were made by it" in page
    assert "The check “sharp-edge” is left out" in page
    assert "no check for faults that can hurt someone" in page
    done = yard.client.post(f"/yard/quarantine/checklists/{key}", data={"action": "accept", **WHO})
    assert done.status_code == 200
    stoves, *_rest = before = dump(yard.store)
    assert {row.serial for row in stoves} == {"B1-001", "B1-002"}
    trail = text_of(yard.client.get("/yard/trail"))
    assert "decided about a checklist that came with records" in trail
    rebuild_figures(yard.store, lambda _done, _of: None)
    assert dump(yard.store) == before
    with yard.store.reading() as connection:
        current = checklists.get_current_checklist(connection, "small-stove")
    assert current.hash == yard.checklist.hash
    # From now on it is known.
    third = make_record(harmless, "B1-003", "0197f000-0000-7000-8000-0000000000dd")
    assert yard.push(third)["results"][0]["outcome"] == "created"
    assert audit_store(yard.store).altered == []


def test_checklist_in_a_file_handed_over_is_held_back_too(yard):
    harmless = build_harmless(yard)
    introduce(yard.store, OTHER, NOW)
    taken = take(yard, build_file(make_record(harmless), definitions=[harmless.compiled()]))
    assert taken.counts == {"quarantined": 1} and dump(yard.store) == ([], [], [], [])
    key = read_waiting_hash(yard)
    yard.client.post(f"/yard/quarantine/checklists/{key}", data={"action": "reject", **WHO})
    assert dump(yard.store) == ([], [], [], [])
    page = text_of(yard.client.get("/yard/quarantine"))
    assert "Waiting for a decision: 0" in page and "from our second yard" in page
    assert "did not publish" not in page.split("Decided")[0]


def test_record_by_a_brought_checklist_cannot_be_accepted_alone(yard):
    harmless = build_harmless(yard)
    yard.push(make_record(harmless), definitions=[harmless.compiled()])
    refused = yard.client.post("/yard/quarantine/1", data={"action": "accept", "seen": "", **WHO})
    assert refused.status_code == 400 and "did not publish" in refused.text


def test_checklist_needs_a_reason_and_a_hash_that_waits(yard):
    harmless = build_harmless(yard)
    yard.push(make_record(harmless), definitions=[harmless.compiled()])
    key = read_waiting_hash(yard)
    address = f"/yard/quarantine/checklists/{key}"
    assert yard.client.post(address, data={"action": "accept", "reason": ""}).status_code == 400
    assert yard.client.get(f"/yard/quarantine/checklists/{'0' * 64}").status_code == 404
    assert dump(yard.store) == ([], [], [], [])


def test_record_held_back_counts_once_its_checklist_is_published_here(yard):
    newer = build_small_checklist(revision=7)
    yard.push(Phone(newer, OTHER).inspect("B1-001"), definitions=[newer.compiled()])
    with yard.store.writing() as connection:
        checklists.publish_checklist(
            connection, newer, origin="file", now="2026-11-25T09:00:00.000Z"
        )
    key = read_waiting_hash(yard)
    yard.client.post(f"/yard/quarantine/checklists/{key}", data={"action": "accept", **WHO})
    assert [row.serial for row in dump(yard.store)[0]] == ["B1-001"]
    with yard.store.reading() as connection:
        assert checklists.get_current_checklist(connection, "small-stove").revision == 7


def accept_all(yard, harmless):
    """A batch of 20 stoves, all by the harmless checklist, which the lead accepted."""
    phone = Phone(harmless, OTHER)
    for n in range(1, 21):
        honest = Phone(yard.checklist, OTHER).inspect(f"B1-{n:03}")
        body = {
            **honest["body"],
            "answers": {"door-opening-width": {"values": ["100"]}, "dents": {"mark": "pass"}},
            "verdicts": {"door-opening-width": "pass", "dents": "pass"},
        }
        yard.push(phone.seal("inspection", f"B1-{n:03}", body), definitions=[harmless.compiled()])
    address = f"/yard/quarantine/checklists/{read_waiting_hash(yard)}"
    assert yard.client.post(address, data={"action": "accept", **WHO}).status_code == 200


def test_summary_never_says_that_no_critical_fault_was_found_where_nobody_looked(tmp_path):
    yard = open_yard(tmp_path)
    accept_all(yard, build_harmless(yard))
    document = issue(yard)
    rows = {row["severity"]: row for row in document["severities"]}
    assert (rows["critical"]["of"], rows["critical"]["rate"]) == (0, None)
    assert rows["major"]["of"] == 20
    codes = [reason["code"] for reason in document["decision"]["reasons"]]
    assert "no_critical_checks" in codes
    assert "none was looked for" in text_of(yard.client.get("/batches/B1"))
    page = text_of(yard.client.get("/batches/B1/figures"))
    assert "– critical not looked for" in page


def test_stoves_checked_by_the_yards_own_and_by_a_weaker_one_are_not_ready(tmp_path):
    yard = open_yard(tmp_path)
    harmless = build_harmless(yard)
    accept_all(yard, harmless)
    # One stove more by the yard's own, so that the batch has a critical check.
    yard.push(yard.phone.inspect("B1-021"))
    document = issue(yard)
    assert document["decision"]["final"] == "not_ready"
    reasons = {one["code"]: one["params"] for one in document["decision"]["reasons"]}
    assert reasons["critical_not_looked_at"]["n"] == 20
    (critical,) = (row for row in document["severities"] if row["severity"] == "critical")
    assert (critical["of"], critical["failed"]) == (1, 0)


def issue(yard) -> dict:
    answer = yard.client.post("/batches/B1/summaries", follow_redirects=False)
    assert answer.status_code == 303, answer.text
    with yard.store.reading() as connection:
        (row,) = connection.exec_driver_sql("SELECT proof FROM summary").all()
    return json.loads(row[0])["summary"]
