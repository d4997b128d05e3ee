"""The immutable record: its shape, its canonical bytes, its hash, the key of its stove.

The phone seals an event (twin: static/phone/js/inspection/event.js); the server only reads and
checks it. Unknown fields are kept, so that an older server loses nothing of a newer phone's work.
The rule for bytes and hash is tests/vectors/event/.
"""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

import rfc8785
from pydantic import Field, ValidationError, model_validator

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_bodies import SummaryBody
from qcapp.inspection.bodies import BODIES
from qcapp.inspection.event_parts import EventPart, Hash, Name, UtcTime, form_error
from qcapp.inspection.plain_json import MAX_LEVELS, is_deeper, is_plain, write_plain
from qcapp.inspection.serial import serial_key

_UUID7 = r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"
EventId = Annotated[str, Field(pattern=f"^{_UUID7}$")]

# Between the yard and its buyer: about a batch, and no phone gets them.
SERVER_MADE_KINDS = ("plan", "decision", "summary", "buyer_answer", "recheck", "reply")
# Of these, what a buyer writes.
BUYERS_KINDS = ("buyer_answer", "recheck")
# Between the trainer and the artisans: no phone gets them either.
BENCH_KINDS = ("skill", "card_lot")
# Only the server itself makes these: a phone that sends one is not believed.
SERVER_KINDS = (
    *SERVER_MADE_KINDS,
    "lesson",
    "quarantine_decision",
    "hold_decision",
    "template",
    "template_replaced",
    "fault_cost",
    "work_hours",
    "gauge",
    "lesson_part",
    "study",
    *BENCH_KINDS,
    "trail",
)
SERVER_DEVICE = "server"

_NEEDED = {
    "inspection": ("batch", "stage", "stove", "checklist", "checklist_hash"),
    "correction": ("batch", "stage", "stove", "corrects"),
    "void": ("batch", "stage", "stove", "corrects"),
    "hold_decision": ("batch", "stage", "stove", "corrects"),
    "first_piece": ("batch", "checklist", "checklist_hash"),
    **dict.fromkeys(SERVER_MADE_KINDS, ("batch",)),
}

# Of no stove's history.
_WITHOUT_STOVE = ("first_piece", "gauge_check")


class Event(EventPart):
    """One record as sealed on the phone. `tz_min`: minutes east of UTC of the phone's clock."""

    id: EventId
    kind: Literal[
        "inspection",
        "correction",
        "void",
        "photo_note",
        "device_report",
        "lesson",
        "quarantine_decision",
        "hold_decision",
        "plan",
        "decision",
        "summary",
        "buyer_answer",
        "recheck",
        "reply",
        "template",
        "template_replaced",
        "fault_cost",
        "work_hours",
        "lesson_part",
        "first_piece",
        "gauge",
        "gauge_check",
        "study",
        "study_answer",
        "skill",
        "card_lot",
        "trail",
    ]
    device_id: Name
    dev_seq: Annotated[int, Field(ge=1)]
    inspector: Name
    batch: Name | None
    # A zero fits into no key: a record with one would count and stand on no stove.
    stage: Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^/\x00]+$")] | None
    stove: Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^\x00]+$")] | None
    checklist: Annotated[str, Field(pattern=r"^[a-z0-9-]+@[0-9]+$")] | None
    checklist_hash: Hash | None
    captured_at: UtcTime
    tz_min: Annotated[int, Field(ge=-1440, le=1440)]
    app_build: Annotated[str, Field(max_length=100)]
    body: dict[str, Any]
    photos: list[Hash]
    corrects: EventId | None
    hash: Hash

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        for field in _NEEDED.get(self.kind, ()):
            if getattr(self, field) is None:
                raise form_error(f"{self.kind} needs {field}", [field], "missing")
        if self.kind in _WITHOUT_STOVE and self.stove is not None:
            raise form_error(f"{self.kind} is about no stove", ["stove"], "superfluous")
        if self.kind in BODIES:
            _check_body(BODIES[self.kind], self.body)
        return self


@dataclass(frozen=True)
class EventContent:
    """All of an event but its hash; None where a field does not apply to the kind."""

    id: str
    kind: str
    device_id: str
    dev_seq: int
    inspector: str
    captured_at: str
    app_build: str
    body: Mapping[str, Any]
    batch: str | None = None
    stage: str | None = None
    stove: str | None = None
    checklist: str | None = None
    checklist_hash: str | None = None
    tz_min: int = 0
    photos: Sequence[str] = ()
    corrects: str | None = None

    def seal(self) -> dict[str, Any]:
        """The event as it is sent and kept, with the hash of its content."""
        return seal_event({**vars(self), "body": dict(self.body), "photos": list(self.photos)})


def seal_event(content: Mapping[str, Any]) -> dict[str, Any]:
    """With the hash of all the other fields, whatever it had before."""
    return {**content, "hash": event_hash(content)}


def is_summary_body(body: Any) -> bool:
    """Whether a record's body has the form of an issued summary."""
    try:
        SummaryBody.model_validate(body)
    except ValidationError:
        return False
    return (
        isinstance(body["proof"].get("summary"), dict) and "issued_at" in body["proof"]["summary"]
    )


def _check_body(shape: type[EventPart], body: dict[str, Any]) -> None:
    try:
        shape.model_validate(body)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        given = first.get("ctx", {})
        at = ("body", *first["loc"], *given.get("at", ()))
        text = f"{'.'.join(map(str, at))}: {first['msg']}"
        raise form_error(text, at, given.get("problem", first["type"])) from error


def canonical(value: Mapping[str, Any]) -> bytes:
    """UTF-8 bytes of the canonical JSON (RFC 8785) of `value`.

    BadInput when it holds what an event never holds: a number that is not a whole one within
    2**53 - 1 (how such numbers are written differs between languages), or a half character.
    """
    try:
        if is_plain(value):
            return write_plain(value).encode()
        _refuse_floats(value)
        return rfc8785.dumps(value)
    except (ValueError, RecursionError) as error:
        raise _not_canonical(error) from error


def _not_canonical(error: Exception) -> BadInput:
    return BadInput(
        phrase("not canonical JSON: %(error)s", error=error),
        "event",
        phrase("send whole numbers and text"),
    )


def _refuse_floats(value: Any) -> None:
    if isinstance(value, float):
        raise ValueError(f"{value} is not written as a whole number")  # noqa: TRY004  (caught above)
    children = value.values() if isinstance(value, Mapping) else value
    if isinstance(value, (Mapping, list, tuple)):
        for child in children:
            _refuse_floats(child)


def event_hash(raw: Mapping[str, Any]) -> str:
    """SHA-256, lower-case hex, of the canonical JSON of an event without its "hash"."""
    content = {key: value for key, value in raw.items() if key != "hash"}
    return hashlib.sha256(canonical(content)).hexdigest()


def kept_hash(content: Mapping[str, Any], text: str) -> str:
    """The hash under which `text`, the JSON of `content`, is kept.

    Of the content where the text is its canonical form, else (it has none) of the text itself.
    """
    try:
        if canonical(content).decode() == text:
            return event_hash(content)
    except BadInput:
        pass
    return event_hash({"text": text})


def freeze(raw: Mapping[str, Any]) -> tuple[bytes, str]:
    """(canonical(raw), event_hash(raw)), each value written once: half the work for what arrives by
    the thousand. BadInput for more than MAX_LEVELS levels too.
    """
    try:
        whole, unhashed = _freeze_plain(raw) if is_plain(raw) else _freeze_any(raw)
    except (ValueError, RecursionError) as error:
        raise _not_canonical(error) from error
    return whole, hashlib.sha256(unhashed).hexdigest()


def _freeze_plain(raw: Mapping[str, Any]) -> tuple[bytes, bytes]:
    before, own, after = (
        write_plain(part)[1:-1]
        for part in (
            {name: value for name, value in raw.items() if name < "hash"},
            {name: value for name, value in raw.items() if name == "hash"},
            {name: value for name, value in raw.items() if name > "hash"},
        )
    )
    whole, unhashed = (
        "{" + ",".join(filter(None, parts)) + "}"
        for parts in ((before, own, after), (before, after))
    )
    return whole.encode(), unhashed.encode()


def _freeze_any(raw: Mapping[str, Any]) -> tuple[bytes, bytes]:
    if is_deeper(raw):
        raise ValueError(f"deeper than {MAX_LEVELS} levels")
    _refuse_floats(raw)
    parts = {key: rfc8785.dumps(key) + b":" + rfc8785.dumps(value) for key, value in raw.items()}
    # RFC 8785, 3.2.3: names in the order of their UTF-16 code units.
    names = sorted(parts, key=lambda name: name.encode("utf-16-be"))
    whole, unhashed = (
        b"{" + b",".join(parts[name] for name in names if name != left_out) + b"}"
        for left_out in (None, "hash")
    )
    return whole, unhashed


def is_phone_id(text: str) -> bool:
    """Whether a phone makes such an id for itself: none that the server or the lead goes by, and
    one that fits into every address.
    """
    return re.fullmatch(_UUID7, text) is not None


def build_uuid7(milliseconds: int, random_bits: int) -> str:
    """A UUID of version 7 (RFC 9562, section 5.7): Unix time, then 80 bits of which 6 are fixed.

    Twin of uuid7 in static/phone/js/inspection/event.js.
    """
    number = (milliseconds << 80) | random_bits
    number = (number & ~(0xF << 76)) | (0x7 << 76)
    digits = f"{(number & ~(0x3 << 62)) | (0x2 << 62):032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


def stove_key(stage: str, stove: str) -> str:
    """The name under which a stove's events of one stage are kept together, however its serial was
    typed.
    """
    return f"{stage}/{serial_key(stove)}"


def normalize_stove_key(written: str) -> str:
    """The key of a stove named by its stage and its serial as typed: finished/b1-007."""
    stage, _, stove = written.partition("/")
    return stove_key(stage, stove)
