"""Who did what: every change is a line, under the running hash, in codes only;
phones do not get it.
"""

import json
import re

import pytest

from qcapp.access.attempts import MAX_TRIES
from qcapp.store import log
from tests.access.test_accounts import WORDS, make_trainer
from tests.builders import open_client, open_yard

D9 = "0197f000-0000-7000-8000-0000000000d9"


@pytest.fixture
def yard():
    return open_yard()


def list_lines(yard):
    with yard.store.reading() as connection:
        events = [
            json.loads(row.raw) for row in log.list_trail(connection, before=2**53, limit=1000)
        ]
        assert log.find_broken_link(connection) is None
    return [
        (event["inspector"], event["body"]["action"], event["body"]["about"])
        for event in reversed(events)
    ]


def test_changes_sign_ins_and_phones_are_lines(yard):
    trainer, _link = make_trainer(yard)
    trainer.post(
        "/trainer/lessons", data={"held_on": "2026-11-20", "step": "turn-edge", "people": "A01"}
    )
    open_client(yard.client.app).post(
        "/sign-in", data={"code": "T01", "password": "wrong words here"}
    )
    trainer.post("/sign-out")
    trainer.post("/sign-in", data={"code": "T01", "password": WORDS})
    yard.client.post("/yard/join-codes", data={"name": "Phone 9"})
    yard.client.post(f"/yard/phones/{yard.phone.device_id}/revoke")
    assert list_lines(yard) == [
        ("LEAD", "account_invited", {"account": "T01", "role": "trainer"}),
        ("T01", "link_used", {}),
        ("T01", "lesson_recorded", {}),
        ("T01", "signed_out", {}),
        ("T01", "signed_in", {"failed_before": "1"}),
        ("LEAD", "join_code_made", {}),
        ("LEAD", "phone_signed_off", {"device_id": yard.phone.device_id}),
    ]


def test_refused_change_is_no_line(yard):
    assert yard.client.post("/yard/accounts/LEAD/disable").status_code == 409
    assert yard.client.post("/trainer/lessons", data={}).status_code == 422
    assert list_lines(yard) == []


def test_phone_that_joins_is_a_line_with_its_id(yard):
    page = yard.client.post("/yard/join-codes", data={"name": "Phone 9"})
    code = re.search(r"#join=([0-9A-Z]{8})", page.text).group(1)
    joined = open_client(yard.client.app).post(
        "/api/devices/enrol", json={"code": code, "device_id": D9}
    )
    assert joined.status_code == 200
    assert list_lines(yard)[-1] == ("phone", "phone_joined", {"device": D9})


def test_too_many_wrong_tries_are_one_line_and_only_for_a_real_account(yard, monkeypatch):
    monkeypatch.setattr("qcapp.access.sessions.is_password", lambda words, kept: False)
    stranger = open_client(yard.client.app)
    for code in ("LEAD", "GHOST"):
        for _ in range(MAX_TRIES["account from address"] + 3):
            stranger.post("/sign-in", data={"code": code, "password": "x"})
    assert list_lines(yard) == [("nobody", "sign_in_blocked", {"account": "LEAD"})]


def test_log_holds_codes_only(yard):
    trainer, link = make_trainer(yard)
    trainer.post(
        "/trainer/lessons", data={"held_on": "2026-11-20", "step": "turn-edge", "people": "A01"}
    )
    yard.push(yard.phone.inspect("B1-001"))
    with yard.store.reading() as connection:
        kept = " ".join(row.raw for row in log.list_after(connection, 0, None))
    for secret in (
        "Taro",
        "Ano",
        "Ciro",
        "LEAD name",
        WORDS,
        link,
        yard.client.cookies["qcapp"],
        trainer.cookies["qcapp"],
    ):
        assert secret not in kept


@pytest.mark.slow
def test_page_shows_lines_and_pages_back(yard):
    for n in range(103):
        yard.client.post("/yard/join-codes", data={"name": f"Phone {n}"})
    first = yard.client.get("/yard/trail")
    assert first.text.count("made a join code") == 100
    older = re.search(r'href="(\?before=\d+)"', first.text).group(1)
    assert yard.client.get(f"/yard/trail{older}").text.count("made a join code") == 3


def test_phones_do_not_get_the_trail_and_their_place_in_the_log_moves_past_it(yard):
    yard.client.post("/yard/join-codes", data={"name": "Phone 9"})
    pulled = yard.client.get("/api/sync/pull", headers=yard.headers).json()
    assert pulled["events"] == [] and pulled["cursor"].startswith("1:") and not pulled["more"]
    assert (
        yard.client.get(
            "/api/sync/pull", params={"cursor": pulled["cursor"]}, headers=yard.headers
        ).json()["lineage"]
        == "ok"
    )
