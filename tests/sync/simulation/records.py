"""What phones record in the fault tests: a few bodies, made once; some must be set aside."""

import io
from dataclasses import dataclass

from PIL import Image

from qcapp.checklist.model import Checklist
from qcapp.inspection.event import seal_event
from tests.builders import Phone

# (how builders.Phone.inspect is called, whether it must be set aside). The reasons are those of
# sync/admit.py.
KINDS: dict[str, tuple[dict, bool]] = {
    "good": ({}, False),
    "narrow": ({"width": "90", "disposition": "rework"}, False),
    "sharp": ({"edge": "fail", "disposition": "scrap"}, False),
    "by another": ({"maker": "A02", "dents": "fail", "disposition": "rework"}, False),
    "unknown artisan": ({"maker": "A77"}, True),
    "impossible value": ({"width": "4000"}, True),
    "unknown batch": ({"batch": "B9"}, True),
    "unknown inspector": ({"inspector": "I99"}, True),
}
FROM_EVENT = ("kind", "inspector", "batch", "stage", "stove", "checklist", "checklist_hash", "body")
# More than an event may have; an unknown field, so that only its size is wrong.
PADDING = "x" * 17_000


@dataclass(frozen=True)
class Records:
    """Fields for Phone.record."""

    inspections: dict[str, dict]

    def inspect(self, kind: str, stove: str) -> dict:
        return {**self.inspections[kind], "stove": stove}

    def correct(self, target: dict, kind: str) -> dict:
        body = {"reason": "looked again", "replacement": self.inspections[kind]["body"]}
        return {
            **_of(target),
            "kind": "correction",
            "corrects": target["id"],
            "body": body,
            "inspector": "I01",
        }

    def void(self, target: dict) -> dict:
        return {
            **_of(target),
            "kind": "void",
            "corrects": target["id"],
            "body": {"reason": "entered twice"},
            "inspector": "I01",
        }


def _of(target: dict) -> dict:
    return {key: target[key] for key in ("batch", "stage", "stove", "checklist", "checklist_hash")}


def build_records(checklist: Checklist) -> Records:
    made = {name: Phone(checklist).inspect("S0", **how) for name, (how, _is_bad) in KINDS.items()}
    return Records({name: {key: event[key] for key in FROM_EVENT} for name, event in made.items()})


def alter(event: dict, inspector: str = "I01") -> dict:
    """Another content under the same id, properly sealed: what no honest phone makes."""
    content = {key: value for key, value in event.items() if key != "hash"} | {
        "inspector": inspector,
        "app_build": "altered",
    }
    return seal_event(content)


def build_photos(count: int = 3) -> list[bytes]:
    """Small JPEGs without EXIF, each of another grey."""
    made = []
    for number in range(count):
        file = io.BytesIO()
        Image.new("L", (8, 8), 40 + 60 * number).save(file, "JPEG")
        made.append(file.getvalue())
    return made
