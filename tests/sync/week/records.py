"""What the week's inspectors record, and how a record is expected to stand: read from the record
alone, by the limits written here, without the program's judge.
"""

from collections.abc import Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import judge_answers

# (change of a good inspection, its weight among what is drawn).
KINDS: dict[str, tuple[dict[str, str], int]] = {
    "good": ({}, 60),
    "narrow": ({"width": "90", "disposition": "rework"}, 10),
    "wide": ({"width": "110", "disposition": "rework"}, 6),
    "sharp": ({"edge": "fail", "disposition": "scrap"}, 6),
    "dented": ({"dents": "fail", "disposition": "rework", "maker": "A02"}, 8),
    "unknown artisan": ({"maker": "A77"}, 2),
    "impossible value": ({"width": "4000", "disposition": "rework"}, 2),
    "unknown batch": ({"batch": "B9"}, 2),
    "batch that is closed": ({"batch": "B0"}, 2),
    "unknown inspector": ({"inspector": "I99"}, 2),
}
GOOD = ("good", "narrow", "wide", "sharp", "dented")
KNOWN_PEOPLE = {"I01", "I02", "I03", "I04", "A01", "A02"}
KNOWN_BATCHES = {"B0", "B1", "B2", "B3"}
CLOSED_AT = "2026-10-01T00:00:00.000Z"
WIDTH = (97, 103)
POSSIBLE = (0, 400)


def build_fields(
    checklist: Checklist, kind: str, stove: str, inspector: str, batch: str
) -> dict[str, Any]:
    """Fields of an inspection as the phone's screens hand them to be sealed."""
    chosen = {
        "width": "100",
        "edge": "pass",
        "dents": "pass",
        "maker": "A01",
        "disposition": "release",
        "inspector": inspector,
        "batch": batch,
        **KINDS[kind][0],
    }
    answers: dict[str, Any] = {
        "sharp-edge": {"mark": chosen["edge"]},
        "door-opening-width": {"values": [chosen["width"]]},
        "dents": {"mark": chosen["dents"]},
    }
    if any(check.id == "handle-firm" for check in checklist.checks):
        answers["handle-firm"] = {"mark": "pass"}
    about = {"size": "medium", "batch": {"painted": False}}
    judged = judge_answers(checklist, answers, about)
    disposition = {"kind": chosen["disposition"]}
    if chosen["disposition"] == "scrap":
        disposition["reason"] = "as agreed"
    return {
        "kind": "inspection",
        "inspector": chosen["inspector"],
        "batch": chosen["batch"],
        "stage": "finished",
        "stove": stove,
        "checklist": checklist.key,
        "checklist_hash": checklist.hash,
        "body": {
            "size": "medium",
            "batch_attributes": {"painted": False},
            "started_at": "2026-11-25T08:00:00.000Z",
            "crew": {step.id: chosen["maker"] for step in checklist.steps},
            "answers": answers,
            "verdicts": {key: found.verdict for key, found in judged.items()},
            "disposition": disposition,
        },
    }


FROM_TARGET = ("batch", "stage", "stove", "checklist", "checklist_hash")


def correct(target: Mapping[str, Any], fields: Mapping[str, Any]) -> dict[str, Any]:
    """fields: of an inspection that would have been right."""
    return {
        **{key: target[key] for key in FROM_TARGET},
        "kind": "correction",
        "corrects": target["id"],
        "inspector": fields["inspector"],
        "body": {"reason": "looked again", "replacement": fields["body"]},
    }


def void(target: Mapping[str, Any], inspector: str) -> dict[str, Any]:
    return {
        **{key: target[key] for key in FROM_TARGET},
        "kind": "void",
        "corrects": target["id"],
        "inspector": inspector,
        "body": {"reason": "entered twice"},
    }


def expect_reason(event: Mapping[str, Any]) -> str | None:
    """Why a record that its phone made must be held back, by what it says; None: it counts."""
    if event["kind"] == "device_report":
        return None
    if event["inspector"] not in KNOWN_PEOPLE:
        return "unknown_inspector"
    if event["batch"] not in KNOWN_BATCHES:
        return "unknown_batch"
    # A closed batch takes no new inspection; what is there may still be corrected.
    is_late = event["batch"] == "B0" and event["captured_at"] > CLOSED_AT
    if is_late and event["kind"] == "inspection":
        return "batch_closed"
    body = get_body(event)
    if body is None:
        return None
    if set(body["crew"].values()) - KNOWN_PEOPLE:
        return "unknown_artisan"
    width = int(body["answers"]["door-opening-width"]["values"][0])
    return None if POSSIBLE[0] <= width <= POSSIBLE[1] else "impossible_value"


def get_body(event: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """What was seen; None of a record that says nothing of that."""
    body = event["body"]
    return {"inspection": body, "correction": body.get("replacement")}.get(event["kind"])


def find_failed(body: Mapping[str, Any]) -> dict[str, bool]:
    """{check: whether it failed}."""
    failed = {}
    for check, answer in body["answers"].items():
        if "mark" in answer:
            failed[check] = answer["mark"] == "fail"
        else:
            failed[check] = not WIDTH[0] <= int(answer["values"][0]) <= WIDTH[1]
    return failed
