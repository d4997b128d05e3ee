"""A yard whose fired liners are measured in photos, with one phone that sends them."""

from pathlib import Path

from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import judge_answers
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.drawings import keep_drawings
from qcapp.usecases.open_store import read_shown
from tests.builders import ROOT, Yard, open_yard
from tests.inspection.checks import complete_compiled

PHOTO, OVERLAY = "a" * 64, "b" * 64
COUNT = {
    "id": "holes",
    "part": "grate",
    "step": "pierce-grate",
    "kind": "count",
    "photo": "holes",
    "unit": "holes",
    "possible": {"lower": 0, "upper": 99},
    "limits": {
        "medium": {
            "lower": 19,
            "nominal": 19,
            "upper": 19,
            "accept_lower": 19,
            "accept_upper": 19,
        }
    },
}
MARGIN = {
    "id": "margin",
    "part": "grate",
    "step": "pierce-grate",
    "kind": "readings",
    "n": 2,
    "by": "smallest",
    "photo": "holes",
    "figure": "margin",
    "uncertainty": 0.8,
    "decision": "simple",
    "possible": {"lower": 0, "upper": 60},
    "limits": {
        "medium": {
            "lower": 10,
            "nominal": 15,
            "upper": None,
            "accept_lower": 10.8,
            "accept_upper": None,
        }
    },
}
RIM = {**MARGIN, "id": "rim", "part": "rim", "photo": None, "figure": None}
PROPOSAL = {
    "count": 19,
    "margin": {"value": "12.3", "uncertainty": "0.4"},
    "web": {"value": "9.8", "uncertainty": "0.3"},
    "widths": [{"value": "16.0", "uncertainty": "0.3"}] * 19,
    "ruler": "180",
    "step": "0",
}


def take(figure: str | None = None, *, is_taken: bool = True, **proposed) -> dict:
    """What an answer keeps of a photo; figure: whose uncertainty stands with the value."""
    proposal = {**PROPOSAL, **proposed}
    uncertainty = {"uncertainty": proposal[figure]["uncertainty"]} if figure and is_taken else {}
    kept = {"photo": PHOTO, "overlay": OVERLAY, "proposal": proposal, "is_taken": is_taken}
    return {"photos": [PHOTO, OVERLAY], "holes": kept | uncertainty}


def margin_of(proposed: str, *values: str) -> dict:
    """A margin that was proposed, and what a person typed instead."""
    kept = take(is_taken=False, margin={"value": proposed, "uncertainty": "0.4"})
    return {"values": list(values), **kept}


def open_photo_yard(folder: Path | None = None) -> Yard:
    yard = open_yard(folder)
    checklist = Checklist.from_compiled(
        complete_compiled([COUNT, MARGIN, RIM], id="fired", stage="fired-liner")
    )
    with yard.store.writing() as connection:
        publish_checklist(connection, checklist, origin="file", now="2026-11-01T00:00:00.000Z")
        keep_drawings(connection, checklist.hash, read_shown(ROOT / "checklists", checklist))
    yard.phone.checklist = checklist
    return yard


def inspect(yard: Yard, serial: str, answers: dict, **change) -> dict:
    """A sealed inspection of a fired liner with these answers, beside good ones."""
    good = {"holes": {"values": ["19"]}, "margin": {"values": ["14", "15"]}}
    given = {**good, "rim": {"values": ["14", "15"]}, **answers}
    judged = judge_answers(yard.phone.checklist, given, {"size": "medium", "batch": {}})
    body = {
        "size": "medium",
        "batch_attributes": {},
        "started_at": "2026-11-24T08:00:00.000Z",
        "crew": {"pierce-grate": "A01"},
        "answers": given,
        "verdicts": {key: found.verdict for key, found in judged.items()},
        "disposition": {"kind": "hold", "reason": "looked at again"},
    }
    photos = list(
        dict.fromkeys(one for answer in given.values() for one in answer.get("photos", ()))
    )
    return yard.phone.seal("inspection", serial, body, stage="fired-liner", photos=photos, **change)
