"""Handing the events over: limits kept, order kept, nothing lost without a word."""

import json

import pytest

from qcapp.errors import QcappError
from qcapp.scenario.fill import MAX_BYTES, cut_to_size, fill_yard

CLOCK = "2026-11-25T08:00:00.000Z"


def make_event(device_id: str, dev_seq: int, padding: int = 0) -> dict:
    return {
        "id": f"{device_id}-{dev_seq}",
        "device_id": device_id,
        "dev_seq": dev_seq,
        "body": {"note": "x" * padding},
    }


class Server:
    """Answers like the server and remembers what came."""

    def __init__(self, outcome="created", left_out=()):
        self.outcome, self.left_out, self.requests = outcome, left_out, []

    def push(self, request: dict) -> dict:
        self.requests.append(request)
        named = [event["id"] for event in request["events"] if event["id"] not in self.left_out]
        return {
            "results": [
                {"id": event_id, "outcome": self.outcome, "reason": "no batch"}
                for event_id in named
            ]
        }


def test_every_event_arrives_once_in_its_device_s_order():
    events = [
        make_event(device_id, number) for number in range(1, 251) for device_id in ("one", "two")
    ]
    server = Server()
    progress = list(fill_yard(server.push, events, CLOCK))
    assert progress == [(100, 500), (200, 500), (250, 500), (350, 500), (450, 500), (500, 500)]
    for device_id in ("one", "two"):
        numbers = [
            e["dev_seq"]
            for r in server.requests
            if r["device"]["id"] == device_id
            for e in r["events"]
        ]
        assert numbers == list(range(1, 251))


def test_device_tells_what_it_made_and_what_was_acknowledged():
    server = Server()
    list(fill_yard(server.push, [make_event("one", number) for number in range(1, 151)], CLOCK))
    notes = [request["device"] for request in server.requests]
    assert notes == [
        {"id": "one", "created": 150, "acked": acked, "clock": CLOCK} for acked in (0, 100)
    ]
    assert len({request["request_id"] for request in server.requests}) == 2


def test_parts_stay_under_the_byte_limit():
    parts = list(cut_to_size([make_event("one", number, padding=9000) for number in range(1, 60)]))
    assert len(parts) == 3
    assert all(sum(len(json.dumps(event)) for event in part) <= MAX_BYTES for part in parts)
    assert [event["dev_seq"] for part in parts for event in part] == list(range(1, 60))


def test_duplicates_are_as_good_as_created():
    assert list(fill_yard(Server("duplicate").push, [make_event("one", 1)], CLOCK)) == [(1, 1)]


@pytest.mark.parametrize("outcome", ["quarantined", "conflict", "retry"])
def test_event_that_does_not_count_stops_the_filling(outcome):
    with pytest.raises(QcappError, match="no batch"):
        list(fill_yard(Server(outcome).push, [make_event("one", 1)], CLOCK))


def test_event_the_answer_does_not_name_stops_the_filling():
    with pytest.raises(QcappError, match="missing"):
        list(
            fill_yard(
                Server(left_out=("one-2",)).push,
                [make_event("one", 1), make_event("one", 2)],
                CLOCK,
            )
        )


def test_second_exchange_goes_on_from_the_first():
    server = Server()
    list(fill_yard(server.push, [make_event("one", number) for number in range(8, 11)], CLOCK))
    assert server.requests[0]["device"] == {"id": "one", "created": 10, "acked": 7, "clock": CLOCK}


def test_silent_phone_tells_of_records_that_it_keeps():
    server = Server()
    list(fill_yard(server.push, [make_event("one", 1)], CLOCK, unsent={"one": 2}))
    assert server.requests[0]["device"]["created"] == 3


def test_only_a_batch_that_nobody_opened_is_held_back():
    event = {**make_event("one", 1), "batch": "B7"}
    held = Server("quarantined")
    assert list(fill_yard(held.push, [event], CLOCK, unopened={"B7"})) == [(1, 1)]
    with pytest.raises(QcappError):
        list(fill_yard(Server("created").push, [event], CLOCK, unopened={"B7"}))
    with pytest.raises(QcappError):
        list(fill_yard(held.push, [event], CLOCK, unopened={"B8"}))
