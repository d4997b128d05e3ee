"""A phone of the buyer's inspector: it gets one batch's offered stoves and no maker, and may check
them again; its records are no inspection of the yard's.
"""

import pytest

from qcapp.access.devices import join_device, make_join_code
from qcapp.store.queries.batch_facts import load_batch_facts
from qcapp.store.queries.overview import count_yard
from qcapp.store.registry.batches import get_batch
from qcapp.sync.buyers_reference import INSPECTOR
from tests.builders import NOW, Phone, build_push, open_yard
from tests.page_text import text_of
from tests.web.test_batch_review import issue
from tests.web.test_summary_link import make_address

DEVICE = "0197f000-0000-7000-8000-0000000000bb"
MAKERS = ("A01", "A02", "Ano", "Beda", "I01")


class BuyersPhone:
    """Joined for batch B1 by a code that the lead made on the page of phones."""

    def __init__(self, yard):
        self.client, self.phone = yard.client, Phone(yard.checklist, device_id=DEVICE)
        code = make_join_code(
            yard.store, name="Buyer's inspector", minutes=15, now=NOW, buyer_batch="B1"
        )
        token = join_device(yard.store, code=code, device_id=DEVICE, now=NOW).token
        self.headers = {"Authorization": f"Bearer {token}"}

    def get(self, path):
        return self.client.get(path, headers=self.headers)

    def look(self, serial, study="recheck:B1", at="2026-11-25T08:00:00.000Z", **change):
        answers = {**self.phone.inspect(serial)["body"]["answers"], **change}
        body = {"study": study, "stove": serial, "repeat": 1, "answers": answers}
        about = {"batch": None, "stage": None, "inspector": INSPECTOR}
        return self.phone.seal("study_answer", None, body, at=at, **about)

    def push(self, *events):
        answer = self.client.post(
            "/api/sync/push", json=build_push(list(events)), headers=self.headers
        )
        assert answer.status_code == 200, answer.text
        return answer.json()["results"]


@pytest.fixture
def yard(tmp_path):
    yard = open_yard(tmp_path)
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 6)))
    yard.push(yard.phone.inspect("B1-009", edge="fail", disposition="scrap"))
    issue(yard)
    return yard


@pytest.fixture
def buyers(yard):
    return BuyersPhone(yard)


def test_it_gets_the_offered_stoves_of_its_batch_and_no_maker(yard, buyers):
    answer = buyers.get("/api/sync/reference")
    reference = answer.json()
    (study,) = reference["studies"]
    assert study["id"] == "recheck:B1" and study["batch"] == "B1"
    assert [look["stove"] for look in study["orders"][INSPECTOR]] == [
        f"B1-00{n}" for n in range(1, 6)
    ]
    assert study["checks"] == ["sharp-edge", "door-opening-width", "dents"]
    assert reference["batches"] == [] and reference["second_looks"] == []
    assert [person["code"] for person in reference["people"]] == [INSPECTOR]
    assert not [maker for maker in MAKERS if f'"{maker}"' in answer.text]
    assert buyers.get("/api/sync/hello").json()["reference_tag"] == reference["tag"]


def test_it_pulls_no_record_and_sees_no_photo_or_page_of_the_yard(yard, buyers):
    pulled = buyers.get("/api/sync/pull?cursor=").json()
    assert pulled["events"] == [] and not pulled["more"] and pulled["cursor"]
    other = buyers.get(f"/api/sync/pull?cursor=&device={yard.phone.device_id}").json()
    assert other["events"] == []
    for path in ("/api/photos/" + "ab" * 32, "/photos/" + "ab" * 32, "/batches/B1", "/trainer"):
        assert buyers.get(path).status_code in (401, 403), path
    refused = buyers.client.post("/api/sync/import", content=b"x", headers=buyers.headers)
    assert refused.status_code in (401, 403)


def test_its_looks_are_the_buyers_recheck_and_no_inspection(yard, buyers):
    before = text_of(yard.client.get("/batches/B1"))
    dented = {"dents": {"mark": "fail", "note": "deep", "photos": ["ab" * 32]}}
    results = buyers.push(buyers.look("B1-001"), buyers.look("B1-002", **dented))
    assert [one["outcome"] for one in results] == ["created", "created"]
    assert text_of(yard.client.get("/batches/B1")) == before
    page = text_of(yard.client.get(f"{make_address(yard)}/recheck"))
    assert "2 stoves re-checked so far, 1 not as agreed." in page
    recheck = issue(yard)["summary"]["recheck"]
    assert (recheck["n"], recheck["failed"], recheck["yard_n"]) == (2, 1, 5)
    assert recheck["stoves"][1] == {
        "serial": "B1-002",
        "checks": 3,
        "failed": [{"check": "dents", "ask": "dents"}],
        "wrote": "deep",
        "photos": ["ab" * 32],
    }


def test_what_else_it_sends_is_kept_but_does_not_count(yard, buyers):
    wrong = [
        buyers.phone.inspect("B1-004", edge="fail"),
        buyers.look("B1-001", study="recheck:B0"),
        buyers.look("finished/B1-001", study="second-look"),
    ]
    results = buyers.push(*wrong)
    assert {one["outcome"] for one in results} == {"quarantined"}
    assert {one["reason"]["code"] for one in results} == {"recheck_only"}
    page = text_of(yard.client.get(f"{make_address(yard)}/recheck"))
    assert "re-checked so far" not in page
    with yard.store.reading() as connection:
        assert [stove.faults for stove in list_passes(connection)] == [0] * 5 + [1]


def list_passes(connection):
    return load_batch_facts(connection, get_batch(connection, "B1")).stoves


def test_a_phone_of_the_yard_may_not_recheck_for_the_buyer(yard, buyers):
    look = buyers.look("B1-001")
    about = {"batch": None, "stage": None}
    record = yard.phone.seal("study_answer", None, look["body"], **about)
    (result,) = yard.push(record)["results"]
    assert result["outcome"] == "quarantined" and result["reason"]["code"] == "unknown_study"


def test_lead_sees_whose_phone_it_is_and_does_not_wait_for_it(yard, buyers):
    assert buyers.get("/api/sync/hello").status_code == 200
    page = text_of(yard.client.get("/yard"))
    assert "s inspector, batch B1" in page
    with yard.store.writing() as connection:
        connection.exec_driver_sql("UPDATE device SET last_seen_at = '2026-01-01T00:00:00.000Z'")
    assert "s inspector has been silent" not in text_of(yard.client.get("/"))
    with yard.store.reading() as connection:
        counted = count_yard(connection, silent_before="2026-11-01T00:00:00.000Z")
    assert counted["phones"] == counted["silent"] == 1


def test_lead_makes_the_code_on_the_page_of_phones(yard):
    made = yard.client.post("/yard/join-codes", data={"name": "Inspector", "buyer_batch": "B1"})
    assert made.status_code == 200
    assert (
        yard.client.post(
            "/yard/join-codes", data={"name": "Inspector", "buyer_batch": "NONE"}
        ).status_code
        == 404
    )
    with yard.store.reading() as connection:
        kept = connection.exec_driver_sql("SELECT name, buyer_batch FROM join_code").all()
    assert ("Inspector", "B1") in kept
