"""Push: every event gets its own outcome; nothing that arrives is lost."""

import gzip
import json

import pytest

from qcapp.store import log
from qcapp.store.registry.checklists import load_checklists
from qcapp.sync.protocol import MAX_BYTES, MAX_EVENT_BYTES
from qcapp.sync.quarantine_reasons import (
    BATCH_CLOSED,
    DISPOSITION_WITH_FAIL,
    IMPOSSIBLE_VALUE,
    TOO_LARGE,
    UNKNOWN_ARTISAN,
    UNKNOWN_BATCH,
    UNKNOWN_CHECK,
    UNKNOWN_CHECKLIST,
    UNKNOWN_INSPECTOR,
    WRONG_FORM,
    WRONG_HASH,
)
from tests.builders import Phone, build_push, build_small_checklist, open_yard

pytestmark = pytest.mark.both_engines


@pytest.fixture
def yard():
    return open_yard()


def outcomes(answer):
    return [result["outcome"] for result in answer["results"]]


def test_new_event_is_created_and_repeat_is_duplicate(yard):
    event = yard.phone.inspect("B1-001")
    assert outcomes(yard.push(event)) == ["created"]
    assert outcomes(yard.push(event, event)) == ["duplicate", "duplicate"]
    with yard.store.reading() as connection:
        assert log.get_head(connection).seq == 1


def test_stored_text_is_what_the_phone_sealed(yard):
    event = yard.phone.inspect("B1-001", edge="pass")
    yard.push(event)
    with yard.store.reading() as connection:
        (row,) = log.list_after(connection, 0, 10)
    assert json.loads(row.raw) == event
    assert json.loads(row.raw)["hash"] == event["hash"]


def test_same_id_with_other_content_is_kept_as_conflict(yard):
    first = yard.phone.inspect("B1-001")
    other = Phone(yard.checklist).inspect("B1-001", dents="fail", disposition="rework")
    assert other["id"] == first["id"]
    yard.push(first)
    assert outcomes(yard.push(other)) == ["conflict"]
    assert outcomes(yard.push(other)) == ["conflict"]
    with yard.store.reading() as connection:
        states = [row.state for row in log.list_after(connection, 0, 10)]
    assert states == ["counted", "conflict"]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"batch": "B9"}, UNKNOWN_BATCH(batch="B9")),
        ({"batch": "B0"}, BATCH_CLOSED(batch="B0")),
        ({"inspector": "I99"}, UNKNOWN_INSPECTOR(inspector="I99")),
        ({"checklist_hash": "0" * 64}, UNKNOWN_CHECKLIST(checklist="small-stove@1")),
        ({"kind": "dance"}, WRONG_FORM(place="kind", error="literal_error")),
        ({"dev_seq": -3}, WRONG_FORM(place="dev_seq", error="greater_than_equal")),
        ({"tz_min": 2.5}, WRONG_FORM(place="tz_min", error="int_type")),
    ],
)
def test_event_that_must_not_count_is_kept_with_its_reason(yard, change, reason):
    seal = {key: value for key, value in change.items() if key not in ("kind", "tz_min")}
    event = yard.phone.inspect("B1-001", **seal)
    event = {**event, **change}
    answer = yard.push(event, yard.phone.inspect("B1-002"))
    assert outcomes(answer) == ["quarantined", "created"]
    assert answer["results"][0]["reason"] == reason.to_json()
    with yard.store.reading() as connection:
        kept = [json.loads(row.raw) for row in log.list_after(connection, 0, 10)]
    assert kept[0] == event


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("inspect", "reason"),
    [
        ({"maker": "A77"}, UNKNOWN_ARTISAN(names=["A77"])),
        ({"width": "4000"}, IMPOSSIBLE_VALUE(names=["door-opening-width"])),
        (
            {"edge": "fail", "disposition": "concession"},
            DISPOSITION_WITH_FAIL(kind="concession"),
        ),
        ({"width": "120", "disposition": "release"}, DISPOSITION_WITH_FAIL(kind="release")),
    ],
)
def test_inspection_that_must_not_count_names_its_reason(yard, inspect, reason):
    answer = yard.push(yard.phone.inspect("B1-001", **inspect))
    assert outcomes(answer) == ["quarantined"]
    assert answer["results"][0]["reason"] == reason.to_json()


def test_unknown_check_is_quarantined(yard):
    event = yard.phone.inspect("B1-001")
    body = {
        **event["body"],
        "answers": {**event["body"]["answers"], "colour-of-smoke": {"mark": "pass"}},
    }
    answer = yard.push(yard.phone.seal("inspection", "B1-001", body))
    assert answer["results"][0]["reason"] == UNKNOWN_CHECK(names=["colour-of-smoke"]).to_json()


def test_altered_content_is_quarantined(yard):
    event = yard.phone.inspect("B1-001")
    answer = yard.push({**event, "stove": "B1-777"})
    assert answer["results"][0]["reason"] == WRONG_HASH().to_json()


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "junk",
    [
        None,
        7,
        "text",
        [],
        {},
        {"id": "x"},
        {"id": "\ud800"},
        {"checklist_hash": [[]], "photos": 3},
        {"\ud800": 1},
        {"stage": "a", "stove": "\ud800"},
        {"dev_seq": 2**70},
    ],
)
def test_junk_among_good_ones_is_kept_and_refuses_nobody(yard, junk):
    good = yard.phone.inspect("B1-001")
    body = json.dumps(build_push([junk, good]))
    answer = yard.client.post("/api/sync/push", content=body, headers=yard.headers).json()
    assert outcomes(answer) == ["quarantined", "created"]
    again = yard.client.post("/api/sync/push", content=body, headers=yard.headers).json()
    assert outcomes(again) == ["quarantined", "duplicate"]


def test_half_a_character_inside_a_body_is_kept_too(yard):
    event = yard.phone.inspect("B1-001")
    event["body"]["answers"]["\ud800"] = {"mark": "\ud800"}
    body = json.dumps(build_push([event]))
    answer = yard.client.post("/api/sync/push", content=body, headers=yard.headers)
    (result,) = answer.json()["results"]
    assert (result["outcome"], result["reason"]["code"]) == ("quarantined", "wrong_form")


def test_repeat_of_a_quarantined_event_says_quarantined_again(yard):
    event = yard.phone.inspect("B1-001", batch="B9")
    first, second = yard.push(event), yard.push(event)
    assert first["results"] == second["results"]


def test_oversize_event_comes_back_alone_with_a_way_out(yard):
    big = yard.phone.inspect("B1-001")
    big["body"]["answers"]["dents"]["note"] = "x" * MAX_EVENT_BYTES
    answer = yard.push(big, yard.phone.inspect("B1-002"))
    assert outcomes(answer) == ["retry", "created"]
    assert answer["results"][0]["id"] == big["id"]
    assert answer["results"][0]["reason"] == TOO_LARGE(max_bytes=MAX_EVENT_BYTES).to_json()


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("body", "status", "what"),
    [
        (b"<html>login</html>", 400, "not JSON"),
        (b"", 400, "not JSON"),
        (b"[" * 50_000, 400, "not JSON"),
        (b'{"protocol":1}', 400, "cannot be read"),
        (b'{"protocol":99,"request_id":"r","events":[]}', 400, "not supported"),
        (b" " * (MAX_BYTES + 1), 413, "bytes"),
    ],
)
def test_body_that_is_no_push_gets_a_clear_error(yard, body, status, what):
    answer = yard.client.post("/api/sync/push", content=body, headers=yard.headers)
    assert answer.status_code == status
    assert what in answer.json()["error"]["what"]
    assert answer.json()["error"]["todo"]


@pytest.mark.sqlite_only
@pytest.mark.parametrize("number", [0, 2, 99, -7, "1", None, True, 1.5])
def test_a_push_of_another_protocol_is_refused_and_told_what_to_update(yard, number):
    answer = yard.client.post(
        "/api/sync/push",
        json={**build_push([yard.phone.inspect("B1-001")]), "protocol": number},
        headers=yard.headers,
    )
    assert answer.status_code == 400
    error = answer.json()["error"]
    assert error["where"] == "protocol" and "nothing is lost" in error["todo"]
    with yard.store.reading() as connection:
        assert log.get_head(connection).seq == 0


def test_gzip_is_inflated_and_a_bomb_is_refused(yard):
    headers = {**yard.headers, "Content-Encoding": "gzip"}
    body = gzip.compress(json.dumps(build_push([yard.phone.inspect("B1-001")])).encode())
    assert outcomes(yard.client.post("/api/sync/push", content=body, headers=headers).json()) == [
        "created"
    ]
    bomb = yard.client.post(
        "/api/sync/push", content=gzip.compress(b" " * 50_000_000), headers=headers
    )
    assert bomb.status_code == 413
    broken = yard.client.post("/api/sync/push", content=body[:40] + b"xx", headers=headers)
    assert broken.status_code == 400


def test_without_a_known_token_nothing_is_stored(yard):
    answer = yard.client.post(
        "/api/sync/push",
        json=build_push([yard.phone.inspect("B1-001")]),
        headers={"Authorization": "Bearer wrong"},
    )
    assert answer.status_code == 401
    assert "must join again" in answer.json()["error"]["what"]
    with yard.store.reading() as connection:
        assert log.get_head(connection).seq == 0


def test_definition_sent_along_is_kept_and_its_records_wait_for_the_lead(yard):
    newer = build_small_checklist(revision=7)
    phone = Phone(newer, device_id="0197f000-0000-7000-8000-0000000000bb")
    event = phone.inspect("B1-001")
    (result,) = yard.push(event, definitions=[newer.compiled(), {"id": "nonsense"}])["results"]
    assert (result["outcome"], result["reason"]["code"]) == ("quarantined", "unpublished_checklist")
    with yard.store.reading() as connection:
        assert newer.hash in load_checklists(connection, [newer.hash])


def test_lineage_tells_when_the_log_is_not_the_one_the_phone_saw(yard):
    head = yard.push(yard.phone.inspect("B1-001"))["head"]
    assert yard.push(yard.phone.inspect("B1-002"), have=head)["lineage"] == "ok"
    assert yard.push(have={"seq": 1, "chain": "f" * 64})["lineage"] == "diverged"
    assert yard.push(have={"seq": 99, "chain": head["chain"]})["lineage"] == "diverged"


def test_running_hash_follows_and_an_altered_row_is_found(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 6)))
    with yard.store.writing() as connection:
        assert log.find_broken_link(connection) is None
        connection.exec_driver_sql("UPDATE log SET hash = 'x' WHERE seq = 3")
        assert log.find_broken_link(connection) == 3


def test_each_result_names_its_place_in_the_log(yard):
    first, second = yard.phone.inspect("B1-001"), yard.phone.inspect("B1-002")
    yard.push(first)
    altered = {**first, "inspector": "I99"}
    answer = yard.push(second, first, altered, second)
    assert [result["seq"] for result in answer["results"]] == [2, 1, 3, 2]
