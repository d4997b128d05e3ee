"""Sending in a real browser to a server that misbehaves: only what is named leaves the outbox."""

import hashlib
import threading
import time

import pytest

from tests.e2e.core.fake_yard import as_json, html
from tests.e2e.core.steps import (
    LEDGER,
    disturb_push,
    list_states,
    make_photo_bytes,
    save,
    stove_of,
    sync,
    take_photo,
    wait_until_all_sent,
    yard_answer,
)

TOO_LARGE = {"code": "too_large", "params": {"max_bytes": 16_384}}
UNKNOWN = {"code": "unknown_batch", "params": {"batch": "B1"}}


def test_records_arrive_once_with_the_hash_made_on_the_phone(paired, yard):
    save(paired, "S1", "S2")
    assert sync(paired)["status"] == "sent"
    assert sync(paired)["status"] == "nothing"
    assert [row["event"]["stove"] for row in yard.log] == ["S1", "S2"]
    assert list_states(paired) == {"S1": "sent", "S2": "sent"}


def test_a_phone_that_never_joined_records_and_says_so(bare):
    save(bare, "S1")
    assert {key: sync(bare)[key] for key in ("status", "text_key", "left")} == {
        "status": "pair-again",
        "text_key": "sync.not-paired",
        "left": 1,
    }


def test_records_made_before_joining_go_along(bare, yard):
    save(bare, "S1")
    device_id = bare.evaluate("core.getMeta('device_id')")
    assert bare.evaluate("core.enrol('ABCD2345')") == {"name": "Phone 2"}
    assert sync(bare)["sent"] == 1
    assert [row["event"]["device_id"] for row in yard.log] == [device_id]


def test_joining_again_while_an_answer_is_on_the_way_disturbs_neither(paired, yard):
    save(paired, "S1")
    joined = threading.Event()

    def hold(method, path, request, answer):
        if path == "/api/devices/enrol":
            joined.set()
        elif path == "/api/sync/push" and joined.wait(10):
            # The page hears of its new token first.
            time.sleep(0.5)
        return answer

    yard.disturb = hold
    done = paired.evaluate("""async () => {
        const sending = core.syncNow();
        await new Promise((go) => setTimeout(go, 700));
        await core.enrol('ABCD2345');
        return sending; }""")
    assert (done["status"], done["sent"]) == ("sent", 1) and joined.is_set()


def test_a_refused_code_says_why(bare, yard):
    yard.files["/api/devices/enrol"] = as_json(
        {"error": {"what": "this code is used", "where": "code", "todo": "ask for another"}}, 400
    )
    assert (
        bare.evaluate("core.enrol('X').catch((error) => error.message)")
        == "this code is used: ask for another"
    )


def cut(answer):
    status, headers, content = answer
    return status, headers, content[: len(content) // 2]


REFUSAL = {"error": {"what": "no", "where": "here", "todo": "wait"}}
BROKEN_ANSWERS = {
    "login page": (lambda answer: html(200), "not-connected"),
    "redirect": (lambda answer: (302, {"Location": "/bare"}, b""), "not-connected"),
    "empty": (lambda answer: (200, {}, b""), "not-connected"),
    "cut-off": (cut, "not-connected"),
    "dropped": (lambda answer: None, "not-connected"),
    "other request": (
        lambda answer: as_json(
            {
                "protocol": 1,
                "request_id": "x",
                "lineage": "ok",
                "head": {"seq": 9, "chain": "a"},
                "results": [],
            }
        ),
        "not-connected",
    ),
    "401": (lambda answer: as_json(REFUSAL, 401), "pair-again"),
    "403": (lambda answer: html(403), "not-connected"),
    "410": (lambda answer: html(410), "not-connected"),
    "413": (lambda answer: html(413), "nothing"),
    "422": (lambda answer: as_json(REFUSAL, 422), "nothing"),
    "500": (lambda answer: as_json(REFUSAL, 500), "not-connected"),
    "503": (lambda answer: (503, {"Retry-After": "3"}, b""), "not-connected"),
}


@pytest.mark.parametrize("name", BROKEN_ANSWERS)
def test_a_broken_answer_leaves_the_outbox_as_it_was(paired, yard, name):
    save(paired, "S0")
    sync(paired)
    save(paired, "S1", "S2", "S3")
    before = paired.evaluate(LEDGER)
    make, status = BROKEN_ANSWERS[name]
    disturb_push(yard, make)
    for _cycle in range(3):
        assert sync(paired)["status"] == status
        assert paired.evaluate(LEDGER) == before
    yard.disturb = lambda method, path, request, answer: answer
    assert sync(paired)["left"] == 0
    assert sorted(row["event"]["stove"] for row in yard.log) == ["S0", "S1", "S2", "S3"]


def test_a_pause_asked_by_the_server_is_handed_on(paired, yard):
    save(paired, "S1")
    disturb_push(yard, lambda answer: (503, {"Retry-After": "3"}, b""))
    assert sync(paired)["wait_ms"] == 3000


def test_only_named_records_leave_the_outbox(paired, yard):
    save(paired, "S1", "S2", "S3")

    def forget_s2(answer):
        data = yard_answer(answer)
        named = [result for result in data["results"] if stove_of(yard, result["id"]) != "S2"]
        return as_json({**data, "results": named})

    disturb_push(yard, forget_s2)
    assert {key: sync(paired)[key] for key in ("sent", "left")} == {"sent": 2, "left": 1}
    assert list_states(paired) == {"S1": "sent", "S2": "unsent", "S3": "sent"}


def test_an_unknown_outcome_is_not_an_acknowledgement(paired, yard):
    save(paired, "S1")
    disturb_push(
        yard,
        lambda answer: as_json(
            {
                **yard_answer(answer),
                "results": [{**one, "outcome": "stored"} for one in yard_answer(answer)["results"]],
            }
        ),
    )
    assert sync(paired)["left"] == 1


def test_one_bad_record_among_fifty_holds_up_none(paired, yard):
    save(paired, *(f"S{number}" for number in range(50)))
    yard.judge = lambda event: ("retry", TOO_LARGE) if event["stove"] == "S7" else ("created", None)
    assert {key: sync(paired)[key] for key in ("sent", "left")} == {"sent": 49, "left": 1}
    rows = paired.evaluate("core.listUnsent(9)")
    assert [(row["event"]["stove"], row["reason"]) for row in rows] == [("S7", TOO_LARGE)]


def test_a_record_that_no_gateway_lets_through_holds_up_none(paired, yard):
    save(paired, *(f"S{number}" for number in range(10)))

    def gateway(method, path, request, answer):
        return html(413) if path == "/api/sync/push" and b'"S3"' in request else answer

    yard.disturb = gateway
    # It looks before the server does: nothing of a stopped request is stored.
    served = yard._push
    yard._push = lambda request: (
        {} if any(event["stove"] == "S3" for event in request["events"]) else served(request)
    )
    assert {key: sync(paired)[key] for key in ("sent", "left")} == {"sent": 9, "left": 1}


def test_a_record_set_aside_by_the_server_is_done_and_shown_with_its_reason(paired, yard):
    save(paired, "S1")
    yard.judge = lambda event: ("quarantined", UNKNOWN)
    assert sync(paired)["left"] == 0
    row = paired.evaluate("core.listEvents('finished/S1')")[0]
    assert (row["state"], row["outcome"], row["reason"]) == (
        "shown",
        "quarantined",
        UNKNOWN,
    )


def test_an_answer_lost_after_the_server_stored_it_does_not_double_the_record(paired, yard):
    save(paired, "S1")
    disturb_push(yard, lambda answer: None)
    assert sync(paired)["status"] == "not-connected"
    assert len(yard.log) == 1
    yard.disturb = lambda method, path, request, answer: answer
    assert sync(paired)["sent"] == 1
    assert len(yard.log) == 1


def test_the_reference_is_fetched_once_and_again_when_its_tag_changes(paired, yard):
    sync(paired)
    sync(paired)
    assert [path for _method, path, _size in yard.calls].count("/api/sync/reference") == 1
    yard.reference = {**yard.reference, "tag": "t2", "people": [{"code": "A"}]}
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    sync(paired)
    assert paired.evaluate("core.readKnown().then(({reference}) => reference)")["people"] == [
        {"code": "A"}
    ]


def test_a_checklist_the_server_does_not_know_goes_along(paired, yard):
    compiled = {"id": "finished-stove", "revision": 1}
    paired.evaluate(
        "(compiled) => core.saveReference({checklists: [{hash: '0'.repeat(64), compiled}]})",
        compiled,
    )
    yard.known_checklists = []
    save(paired, "S1")
    sync(paired)
    assert yard.requests[0]["definitions"] == [compiled]


def test_a_phone_that_claims_to_be_offline_sends_all_the_same(context, open_bare, yard):
    context.add_init_script(
        "Object.defineProperty(Navigator.prototype, 'onLine', {get: () => false})"
    )
    page = open_bare()
    page.evaluate("core.enrol('ABCD2345')")
    save(page, "S1")
    assert sync(page)["sent"] == 1


def test_a_hidden_page_calls_nobody(paired, yard):
    save(paired, "S1")
    paired.evaluate(
        "Object.defineProperty(document, 'hidden', {get: () => true, configurable: true})"
    )
    before = len(yard.calls)
    assert sync(paired)["left"] == 1
    assert len(yard.calls) == before


def test_a_saved_record_goes_by_itself_once_the_exchange_is_started(paired, yard):
    paired.evaluate("core.startSync()")
    save(paired, "S1")
    wait_until_all_sent(paired)
    assert len(yard.log) == 1


def test_the_server_coming_back_is_noticed_without_a_tap(paired, yard):
    yard.disturb = lambda method, path, request, answer: None
    paired.evaluate("core.startSync()")
    save(paired, "S1")
    paired.wait_for_timeout(300)
    assert paired.evaluate("core.countUnsent()") == 1
    yard.disturb = lambda method, path, request, answer: answer
    wait_until_all_sent(paired)


PHOTO_BYTES = make_photo_bytes(80_000)


def test_a_photo_follows_its_record_and_resumes_after_a_cut(paired, yard):
    name = take_photo(paired, "S1", len(PHOTO_BYTES))
    pieces = []

    def cut_second_piece(method, path, request, answer):
        pieces.extend([path] if method == "PATCH" else [])
        return None if method == "PATCH" and len(pieces) == 2 else answer

    yard.disturb = cut_second_piece
    assert sync(paired)["left"] == 0
    assert len(yard.photos[name]) < 80_000
    assert paired.evaluate("core.status().then(({photos}) => photos)")["waiting"] == 1
    sync(paired)
    assert (
        bytes(yard.photos[name]) == PHOTO_BYTES and hashlib.sha256(PHOTO_BYTES).hexdigest() == name
    )
    assert paired.evaluate("core.status().then(({photos}) => photos)")["waiting"] == 0
    assert max(size for method, _path, size in yard.calls if method == "PATCH") <= 32_768


def test_records_arrive_while_every_photo_call_fails(paired, yard):
    take_photo(paired, "S1", len(PHOTO_BYTES))
    yard.disturb = lambda method, path, request, answer: (
        html(200) if path.startswith("/api/photos/") else answer
    )
    assert sync(paired)["left"] == 0
    assert len(yard.log) == 1


def test_a_photo_of_no_record_stays_on_the_phone(paired, yard):
    paired.evaluate("core.savePhoto(new ArrayBuffer(100))")
    sync(paired)
    assert yard.photos == {}


def test_the_counts_add_up_to_what_was_recorded(paired):
    save(paired, "S1", "S2")
    sync(paired)
    save(paired, "S3")
    status = paired.evaluate("core.status()")
    assert [status[key] for key in ("created", "unsent", "on_server", "device_name")] == [
        3,
        1,
        2,
        "Phone 2",
    ]
    assert status["last_contact_at"].endswith("Z")


def test_five_hundred_inspections_go_in_ten_requests_and_ninety_kilobytes(paired, yard):
    """Of each, 64 bytes are its signature, which no packing makes smaller: 32 kB of 500."""
    sync(paired)
    paired.evaluate("""async () => {
        for (let n = 0; n < 500; n += 1) {
          const answers = Object.fromEntries(Array.from({length: 20}, (_, at) => [`check-number-${at}`,
            at % 4 ? {mark: 'pass'} : {values: [String(90 + (n * 7 + at) % 20)]}]));
          await core.save(`S${n}`, {body: {size: 'medium', answers}});
        } }""")
    before = len(yard.calls)
    assert sync(paired)["sent"] == 500
    calls = yard.calls[before:]
    assert len(calls) <= 10
    assert sum(size for _method, _path, size in calls) <= 90_000
    signed = [request for request in yard.requests if request.get("events")]
    assert {len(text) for request in signed for text in request["signatures"]} == {86}
