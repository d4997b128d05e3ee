"""Pages and shell: what each person sees, and that errors speak plainly."""

import hashlib
import json
import re

import pytest

from tests.builders import open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines


@pytest.fixture
def yard():
    return open_yard()


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/trainer",
        "/batches",
        "/batches/B1",
        "/yard",
        "/yard/quarantine",
        "/yard/import",
        "/phone/",
        "/phone/anything/deep",
    ],
)
def test_every_page_opens_on_an_empty_yard(yard, address):
    answer = yard.client.get(address)
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/html")
    assert "__BASE__" not in answer.text


def test_every_page_for_people_says_what_a_pass_is_not(yard):
    for address in ("/", "/trainer", "/batches", "/batches/B1", "/yard", "/yard/quarantine"):
        assert "not a safety certificate" in text_of(yard.client.get(address))


def test_buyer_sees_counts_by_severity_disposition_and_part(yard):
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="106", disposition="rework"),
        yard.phone.inspect("B1-003", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-004", edge="fail", width="106", disposition="scrap"),
    )
    # The small checklist is this store's only file revision of the stage.
    (report,) = [r for r in yard.client.get("/api/batches/B1").json() if r["stage"] == "finished"]
    totals = report["totals"]
    assert (report["first_pass"]["count"], report["first_pass"]["of"]) == (1, 4)
    assert totals["stoves"] == {
        "offered": 20,
        "not_inspected": 16,
        "inspected": 4,
        "good": 1,
        "faulty": 3,
        "released_at_once": 1,
        "released_later": 0,
        "concession": 1,
        "scrap": 1,
        "rework": 1,
        "hold": 0,
    }
    assert {kind: share["count"] for kind, share in report["by_severity"].items()} == {
        "critical": 1,
        "major": 2,
        "minor": 1,
    }
    assert totals["faults"] == 4 and totals["by"] == {
        "part": {"edge": 2, "door-opening": 2},
        "check": {"sharp-edge": 1, "door-opening-width": 2, "dents": 1},
        "severity": {"critical": 1, "major": 2, "minor": 1},
    }
    page = yard.client.get("/batches/B1/figures")
    assert "A01" not in text_of(page) and "I01" not in text_of(page), (
        "no maker or inspector is named to a buyer"
    )
    assert 'class="badge largest"' in page.text and "Door opening: 2" in page.text


def test_unknown_batch_and_address_are_said_plainly(yard):
    for address in ("/batches/NONE", "/nowhere"):
        answer = yard.client.get(address)
        assert answer.status_code == 404 and "Back to the start" in answer.text
    assert yard.client.get("/api/batches/NONE").json()["error"]["where"] == "NONE"


def test_reason_with_markup_is_shown_as_text(yard):
    event = yard.phone.inspect("B1-001", dents="fail", disposition="concession")
    event["body"]["disposition"]["reason"] = "<script>alert(1)</script>"
    yard.push(yard.phone.seal("inspection", "B1-001", event["body"]))
    assert "<script>alert" not in yard.client.get("/batches/B1").text


def test_join_code_page_shows_a_code_that_works_once(yard):
    page = yard.client.post("/yard/join-codes", data={"name": "Phone 9"})
    code = re.search(r'class="code">([A-Z2-9]{4} [A-Z2-9]{4})<', page.text)[1]
    assert "<svg" in page.text
    body = {"code": code.replace(" ", ""), "device_id": "0197f000-0000-7000-8000-0000000000cc"}
    assert yard.client.post("/api/devices/enrol", json=body).json()["name"] == "Phone 9"
    again = yard.client.post("/api/devices/enrol", json=body)
    assert again.status_code == 400 and "new one" in again.json()["error"]["todo"]
    assert yard.client.post("/api/devices/enrol", json={"code": 5}).status_code == 400


def test_worker_lists_every_precached_file_with_its_true_hash(yard):
    worker = yard.client.get("/sw.js")
    assert worker.headers["cache-control"] == "no-cache" and "__FILES__" not in worker.text
    files = json.loads(re.search(r"\[\[.*?\]\]", worker.text)[0])
    assert files[0][0] == "/phone/" and len(files) > 10
    for address, digest in files:
        content = yard.client.get(address)
        assert content.status_code == 200, address
        assert hashlib.sha256(content.content).hexdigest() == digest, address


def test_asset_is_kept_for_ever_under_its_build_and_nowhere_else(yard):
    base = yard.client.app.state.shell.base
    good = yard.client.get(f"{base}phone/css/phone.css")
    assert good.status_code == 200 and "immutable" in good.headers["cache-control"]
    assert yard.client.get("/static/000000000000/css/phone.css").status_code == 404
    assert yard.client.get(f"{base}../pyproject.toml").status_code == 404
    assert yard.client.get(f"{base}%2e%2e/pyproject.toml").status_code == 404


def test_unforeseen_error_shows_no_trace(yard, monkeypatch):
    monkeypatch.setattr("qcapp.web.trainer.figures.load_figures", lambda *_: 1 / 0)
    answer = yard.client.get("/trainer")
    assert (
        answer.status_code == 500
        and "ZeroDivision" not in answer.text
        and "unexpected error" in answer.text
    )
