"""What a step's lesson is made of: up to five picture cards and one voice note."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

MAX_PICTURES = 5
# As kept, after it was made smaller; a phone gets them all.
MAX_PICTURE_BYTES = 24 * 1024
# About a minute of speech; a phone fetches it only when it is chosen.
MAX_VOICE_BYTES = 200_000


@dataclass(frozen=True)
class LessonPart:
    """id: of its record; sha256: of its bytes; caption: of a picture, in the yard's language."""

    id: str
    step: str
    kind: Literal["picture", "voice"]
    sha256: str
    type: str
    size: int
    caption: str
    by: str
    at: str


def read_lesson_parts(events: Iterable[Mapping[str, Any]]) -> dict[str, list[LessonPart]]:
    """{step: its parts in the order they were added, voice last}. events: in log order."""
    events = list(events)
    withdrawn = {event["body"].get("withdraws") for event in events}
    found: dict[str, list[LessonPart]] = {}
    for event in events:
        body = event["body"]
        if body.get("withdraws") or event["id"] in withdrawn:
            continue
        same = {name: body[name] for name in ("step", "kind", "sha256", "type", "size", "caption")}
        part = LessonPart(id=event["id"], by=event["inspector"], at=event["captured_at"], **same)
        found.setdefault(part.step, []).append(part)
    return {step: sorted(own, key=lambda part: part.kind == "voice") for step, own in found.items()}
