"""The server's check of an event's shape: what it lets through and what it refuses."""

import copy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from qcapp.errors import BadInput
from qcapp.inspection.event import (
    SERVER_MADE_KINDS,
    Event,
    canonical,
    event_hash,
    freeze,
    normalize_stove_key,
    stove_key,
)

EVENT_ID = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
BODY = {
    "size": "medium",
    "batch_attributes": {"painted": True},
    "started_at": "2026-11-25T07:58:40.000Z",
    "crew": {"cut-door-opening": "m3"},
    "answers": {
        "door-opening-width": {"values": ["104"], "fault": "too-large"},
        "latch": {"mark": "pass"},
    },
    "verdicts": {"door-opening-width": "fail", "latch": "pass"},
    "disposition": {"kind": "rework"},
}
INSPECTION = {
    "id": EVENT_ID,
    "kind": "inspection",
    "device_id": "phone-2",
    "dev_seq": 7,
    "inspector": "ana",
    "batch": "B-07",
    "stage": "finished",
    "stove": "K-0107",
    "checklist": "finished-stove@1",
    "checklist_hash": "ab" * 32,
    "captured_at": "2026-11-25T08:00:00.000Z",
    "tz_min": 180,
    "app_build": "a1",
    "body": BODY,
    "photos": ["cd" * 32],
    "corrects": None,
    "hash": "ef" * 32,
}
CORRECTION = {
    **INSPECTION,
    "kind": "correction",
    "corrects": EVENT_ID,
    "body": {"reason": "typed wrong", "replacement": BODY},
}
VOID = {
    **INSPECTION,
    "kind": "void",
    "corrects": EVENT_ID,
    "checklist": None,
    "checklist_hash": None,
    "body": {"reason": "wrong stove"},
}
REPORT = {
    **INSPECTION,
    "kind": "device_report",
    "batch": None,
    "stage": None,
    "stove": None,
    "checklist": None,
    "checklist_hash": None,
    "body": {"lost": 4},
    "photos": [],
}
ACCEPTED = {
    **VOID,
    "kind": "quarantine_decision",
    "body": {
        "action": "accept",
        "reason": "asked the inspector",
        "original_hash": "ef" * 32,
        "event": INSPECTION,
    },
}
QUARANTINED = {
    **ACCEPTED,
    "body": {"action": "reject", "reason": "made for practice", "original_hash": "ef" * 32},
}


def changed(event: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    copied = copy.deepcopy(event)
    *steps, last = path.split("/")
    inner = copied
    for step in steps:
        inner = inner[step]
    inner[last] = value
    return copied


@pytest.mark.parametrize(
    "event",
    [INSPECTION, CORRECTION, VOID, REPORT, ACCEPTED, QUARANTINED],
    ids=lambda event: event["kind"],
)
def test_event_of_each_kind_is_read(event: dict) -> None:
    assert Event.model_validate(event).kind == event["kind"]


@pytest.mark.parametrize(
    "path", ["weather", "body/weather", "body/answers/latch/weather", "body/disposition/weather"]
)
def test_unknown_field_is_kept(path: str) -> None:
    raw = changed(INSPECTION, path, "rain")
    assert Event.model_validate(raw).model_dump(exclude_unset=True) == raw


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("id", "017f22e2-79b0-4cc3-98c4-dc0c0c07398f"),
        ("id", EVENT_ID.upper()),
        ("id", 7),
        ("kind", "poem"),
        ("dev_seq", 0),
        ("dev_seq", "7"),
        ("dev_seq", 7.0),
        ("dev_seq", True),
        ("captured_at", "2026-02-30T08:00:00.000Z"),
        ("captured_at", "2026-11-25T08:00:00Z"),
        ("captured_at", "2026-11-25 08:00:00.000Z"),
        ("captured_at", "2026-11-25T08:00:00.000Z\n"),
        ("captured_at", 0),
        ("tz_min", 9999),
        ("hash", "ef"),
        ("hash", "EF" * 32),
        ("photos", ["x"]),
        ("photos", None),
        ("stove", ""),
        ("stage", "a/b"),
        ("checklist", "finished-stove"),
        ("body", []),
        ("batch", None),
        ("stove", None),
        ("checklist_hash", None),
        ("body/size", None),
        ("body/started_at", "today"),
        ("body/crew", {"cut": 3}),
        ("body/crew", {"cut": ""}),
        ("body/batch_attributes", {"a": 0.5}),
        ("body/batch_attributes", {"a": {}}),
        ("body/answers", []),
        ("body/answers", {"latch": "pass"}),
        ("body/answers", {"latch": {"mark": "maybe"}}),
        ("body/answers", {"w": {"values": [100]}}),
        ("body/answers", {"w": {"values": "100"}}),
        ("body/answers", {"w": {"values": ["1e3"]}}),
        ("body/answers", {"w": {"values": ["1,5"]}}),
        ("body/answers", {"w": {"values": ["1\n"]}}),
        ("body/answers", {"w": {"values": ["1"] * 51}}),
        ("body/answers", {"w": {"note": "x" * 2001}}),
        ("body/answers", {"w": {"photos": ["x"]}}),
        ("body/verdicts", {"w": "good"}),
        ("body/verdicts", None),
        ("body/disposition", {"kind": "sell"}),
        ("body/disposition", {}),
        ("body/disposition", "release"),
    ],
)
def test_nonsense_is_refused(path: str, value: Any) -> None:
    with pytest.raises(ValidationError):
        Event.model_validate(changed(INSPECTION, path, value))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("body/action", "keep"),
        ("body/reason", " "),
        ("body/original_hash", "ef"),
        ("body/event", None),
        ("body/action", "reject"),
    ],
)
def test_nonsense_quarantine_decision_is_refused(path: str, value: Any) -> None:
    with pytest.raises(ValidationError):
        Event.model_validate(changed(ACCEPTED, path, value))


@pytest.mark.parametrize("field", sorted(INSPECTION))
def test_no_field_may_be_absent(field: str) -> None:
    with pytest.raises(ValidationError):
        Event.model_validate({key: value for key, value in INSPECTION.items() if key != field})


@pytest.mark.parametrize("kind", ["concession", "hold", "scrap"])
@pytest.mark.parametrize("reason", [{}, {"reason": ""}, {"reason": "  "}])
def test_disposition_that_needs_a_reason_is_refused_without(kind: str, reason: dict) -> None:
    with pytest.raises(ValidationError, match=f"{kind} needs a reason"):
        Event.model_validate(changed(INSPECTION, "body/disposition", {"kind": kind, **reason}))
    given = {"kind": kind, "reason": "buyer agreed"}
    assert (
        Event.model_validate(changed(INSPECTION, "body/disposition", given)).body["disposition"]
        == given
    )


@pytest.mark.parametrize(
    ("event", "path", "value"),
    [
        (CORRECTION, "corrects", None),
        (CORRECTION, "body/reason", " "),
        (CORRECTION, "body/replacement", {}),
        (CORRECTION, "stove", None),
        (VOID, "corrects", None),
        (VOID, "body", {}),
        (VOID, "body/reason", ""),
    ],
)
def test_correction_and_void_name_target_and_reason(event: dict, path: str, value: Any) -> None:
    with pytest.raises(ValidationError):
        Event.model_validate(changed(event, path, value))


def test_message_names_the_place_inside_the_body() -> None:
    raw = changed(CORRECTION, "body/replacement/answers", {"w": {"values": ["wide"]}})
    with pytest.raises(ValidationError, match=r"body\.replacement\.answers\.w\.values\.0"):
        Event.model_validate(raw)


def test_hash_ignores_the_order_of_keys_and_the_hash_itself() -> None:
    turned = {key: INSPECTION[key] for key in reversed(INSPECTION)}
    assert event_hash(turned) == event_hash({**INSPECTION, "hash": "other"})
    assert event_hash(changed(INSPECTION, "body/size", "large")) != event_hash(INSPECTION)


values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@pytest.mark.slow
@given(
    content=st.dictionaries(
        st.text() | st.sampled_from(("hash", "\ue000", "\U0001f600", "a")), values
    )
)
def test_frozen_is_canonical_with_its_hash(content: dict) -> None:
    try:
        expected = canonical(content), event_hash(content)
    except BadInput:
        with pytest.raises(BadInput):
            freeze(content)
    else:
        assert freeze(content) == expected


@pytest.mark.parametrize(
    "value", [{"a": 1.0}, {"a": [float("nan")]}, {"a": 2**53}, {"\ud800": 1}, {"a": object()}]
)
def test_canonical_refuses_what_an_event_never_holds(value: dict) -> None:
    for write in (canonical, freeze):
        with pytest.raises(BadInput, match="canonical"):
            write(value)


def test_canonical_refuses_a_value_nested_without_end() -> None:
    deep: list = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(BadInput):
        canonical({"deep": deep})


def test_stove_key_is_stage_and_serial_however_typed() -> None:
    for serial in ("K-0107", "k 107", "K-O1O7"):
        assert stove_key("finished", serial) == "finished/K107"
        assert normalize_stove_key(f"finished/{serial}") == "finished/K107"


PLAN = {
    "inspect": "every",
    "design": "a/medium",
    "checklist_stage": "finished",
    "lot": 9,
    "level": None,
    "regime": None,
    "letter": None,
    "seed": None,
    "sample": [],
    "limits": [{"severity": "critical", "aql": None, "n": 9, "ac": 0, "re": 1}],
    "may_reduce": False,
    "is_restart": False,
}
REASON = {"code": "scrapped", "params": {"n": 1}}
DECISION = {"computed": "reject", "reasons": [REASON], "final": "accept", "reason": "agreed"}
SUMMARY = {
    "number": 1,
    "sha256": "ab" * 32,
    "proof": {},
    "lot": {"design": "a/medium", "result": None, "may_reduce": False, "is_restart": False},
}
ANSWER = {"answer": "question", "note": "?", "number": 1, "sha256": "ab" * 32, "link": "Buyer"}
RECHECK = {"n": 4, "failed": 4, "note": "", "number": 1, "link": "Buyer"}
OWN = {
    "plan": PLAN,
    "decision": DECISION,
    "summary": SUMMARY,
    "buyer_answer": ANSWER,
    "recheck": RECHECK,
    "reply": {"answers": "ab" * 32, "note": "the photo is of another stove"},
}


def own(kind: str, **change: Any) -> dict[str, Any]:
    return {
        **REPORT,
        "kind": kind,
        "device_id": "server",
        "batch": "B1",
        "body": {**OWN[kind], **change},
    }


@pytest.mark.parametrize("kind", SERVER_MADE_KINDS)
def test_records_of_the_server_itself_are_read_and_need_a_batch(kind: str) -> None:
    assert Event.model_validate(own(kind)).kind == kind
    with pytest.raises(ValidationError):
        Event.model_validate({**own(kind), "batch": None})


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("plan", {"lot": 0}),
        ("plan", {"inspect": "some"}),
        ("decision", {"reason": " "}),
        ("decision", {"final": "maybe"}),
        ("summary", {"number": 0}),
        ("summary", {"sha256": "x"}),
        ("buyer_answer", {"answer": "perhaps"}),
        ("recheck", {"failed": 5}),
        ("recheck", {"n": 0, "failed": 0}),
    ],
)
def test_record_of_the_server_that_cannot_be_is_refused(kind: str, change: dict) -> None:
    with pytest.raises(ValidationError):
        Event.model_validate(own(kind, **change))
