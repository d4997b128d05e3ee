"""Older protocols: made-up ones, since the first is the only one released so far."""

import json

import pytest

from qcapp.store import log
from qcapp.sync import protocol, upgrade
from qcapp.sync.upgrade import Step
from tests.builders import open_yard


@pytest.fixture
def yard():
    return open_yard()


@pytest.fixture
def older(monkeypatch):
    """Protocols -1 and 0: "records" was the word for events, then "outcome" was "verdict"."""

    def rename(old, new):
        return lambda data: {new if key == old else key: value for key, value in data.items()}

    def to_verdicts(answer):
        return {
            **answer,
            "results": [{"id": one["id"], "verdict": one["outcome"]} for one in answer["results"]],
        }

    steps = {
        -1: Step(rename("records", "items"), rename("results", "answers")),
        0: Step(rename("items", "events"), to_verdicts),
    }
    monkeypatch.setattr(upgrade, "STEPS", steps)
    monkeypatch.setattr(push, "PROTOCOLS", (-1, 0, 1))


def push(yard, number, word, event):
    data = {"protocol": number, "request_id": "old", "device": {"id": "x"}, word: [event]}
    answer = yard.client.post("/api/sync/push", json=data, headers=yard.headers)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_every_older_protocol_has_a_step_to_the_next():
    assert set(protocol.PROTOCOLS) == {*upgrade.STEPS, protocol.PROTOCOL}


def test_old_phone_hands_in_its_work_and_is_answered_in_its_words(yard, older):
    event = {**yard.phone.inspect("B1-001"), "a_field_of_later": {"x": 1}}
    answer = push(yard, -1, "records", event)
    assert (
        answer["protocol"] == -1
        and answer["request_id"] == "old"
        and answer["answers"] == [{"id": event["id"], "verdict": "quarantined"}]
    )
    answer = push(yard, 0, "items", yard.phone.inspect("B1-002"))
    assert answer["protocol"] == 0 and answer["results"][0]["verdict"] == "created"
    with yard.store.reading() as connection:
        rows = log.list_after(connection, 0, 10)
    assert json.loads(rows[0].raw) == event


def test_newest_protocol_is_untouched_by_the_steps(yard, older):
    assert yard.push(yard.phone.inspect("B1-001"))["results"][0]["outcome"] == "created"


@pytest.mark.parametrize("number", [2, 99, -7, "1", None, True, 1.5])
def test_protocol_that_is_not_spoken_is_told_the_range(yard, older, number):
    data = {"protocol": number, "request_id": "r", "events": []}
    answer = yard.client.post("/api/sync/push", json=data, headers=yard.headers)
    assert answer.status_code == 400 and answer.json()["error"]["todo"]
    assert yard.client.get("/api/sync/hello").json()["protocols"] == [1]
