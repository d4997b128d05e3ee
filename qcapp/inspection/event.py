"""The immutable record: its shape, its canonical bytes, its hash, the key of its stove.

The phone seals an event (twin: static/js/inspection/event.js); the server only reads and checks
it. Unknown fields are kept, so that an older server loses nothing of a newer phone's work. The
rule for bytes and hash is tests/vectors/event/.
"""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, Literal, Self

import rfc8785
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from qcapp.errors import BadInput
from qcapp.inspection.disposition import needs_reason
from qcapp.inspection.number import CANONICAL_PATTERN

Verdict = Literal["pass", "fail", "doubtful", "not_applicable", "missing"]
Disposition = Literal["release", "rework", "concession", "scrap", "hold"]

Severity = Literal["critical", "major", "minor"]
Decision = Literal["accept", "reject", "not_ready"]
Count = Annotated[int, Field(ge=0)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Reading = Annotated[str, Field(pattern=f"^{CANONICAL_PATTERN}$")]
Name = Annotated[str, Field(min_length=1, max_length=100)]
Note = Annotated[str, Field(max_length=2000)]
Reason = Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]
EventId = Annotated[str, Field(
    pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")]


def _is_real_time(text: str) -> str:
    datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ")
    return text


UtcTime = Annotated[
    str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z$"),
    AfterValidator(_is_real_time)]


class Part(BaseModel):
    """Base of everything inside an event: strict about types, unknown fields kept."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)


class Answer(Part):
    """What the inspector gave for one check; what was not given is absent."""

    mark: Literal["pass", "fail", "not_applicable"] | None = None
    values: Annotated[list[Reading], Field(max_length=50)] | None = None
    option: Name | None = None
    fault: Name | None = None
    note: Note | None = None
    photos: list[Hash] | None = None


class DispositionChoice(Part):
    kind: Disposition
    reason: Note | None = None

    @model_validator(mode="after")
    def _has_reason_where_needed(self) -> Self:
        if needs_reason(self.kind) and not (self.reason or "").strip():
            raise ValueError(f"{self.kind} needs a reason")
        return self


class InspectionBody(Part):
    """`verdicts` are the phone's own; the server judges the answers again."""

    size: Name
    batch_attributes: dict[Name, str | bool | int]
    started_at: UtcTime
    crew: dict[Name, Name]
    answers: dict[Name, Answer]
    verdicts: dict[Name, Verdict]
    disposition: DispositionChoice
    # What was looked at, when a sample was agreed and this stove is not in it.
    scope: Literal["all", "critical"] | None = None


class CorrectionBody(Part):
    reason: Reason
    replacement: InspectionBody


class VoidBody(Part):
    reason: Reason


class AdmissionBody(Part):
    """What a person decided about a record set aside; `original_hash` says which content under the id.

    event: the content that counts from now on, under the same id; only with "accept".
    """

    action: Literal["accept", "set_aside"]
    reason: Reason
    original_hash: Hash
    event: dict[str, Any] | None = None

    @model_validator(mode="after")
    def _has_event_when_accepted(self) -> Self:
        if (self.action == "accept") != (self.event is not None):
            raise ValueError("event goes with accept, and only with it")
        return self


class PlanLimit(Part):
    """aql: percent as printed in the table, None for critical."""

    severity: Severity
    aql: Name | None
    n: Count
    ac: Count
    re: Count


class PlanBody(Part):
    """What was agreed for a batch. sample: serials in the order they were drawn; empty when every stove."""

    inspect: Literal["every", "sample"]
    design: Name
    checklist_stage: Name
    lot: Annotated[int, Field(ge=1)]
    level: Name | None
    stage: Name | None
    letter: Name | None
    seed: Name | None
    sample: list[Name]
    limits: list[PlanLimit]
    may_reduce: bool
    is_restart: bool


class DecisionBody(Part):
    """A person overrules the computed decision; it holds as long as decision and reasons stay these."""

    computed: Decision
    reasons: list[str]
    final: Decision
    reason: Reason


class LotBody(Part):
    """What a summary means for the inspection of the next batches; result is None when it does not count."""

    design: Name
    result: Literal["accepted", "gap", "rejected"] | None
    may_reduce: bool
    is_restart: bool


class SummaryBody(Part):
    number: Annotated[int, Field(ge=1)]
    sha256: Hash
    lot: LotBody
    proof: dict[str, Any]


class BuyerAnswerBody(Part):
    """About one issued summary; link: what the yard called the buyer's link."""

    answer: Literal["accept", "reject", "question"]
    note: Note
    number: Annotated[int, Field(ge=1)]
    sha256: Hash
    link: Name


class RecheckBody(Part):
    """The buyer's re-check of n stoves of the batch, failed of them not as agreed."""

    n: Annotated[int, Field(ge=1)]
    failed: Count
    note: Note
    number: Annotated[int, Field(ge=1)]
    link: Name

    @model_validator(mode="after")
    def _counts_fit(self) -> Self:
        if self.failed > self.n:
            raise ValueError(f"{self.failed} failed of {self.n} cannot be")
        return self


# Only the server itself makes these: a phone that sends one is not believed.
OWN_KINDS = ("plan", "decision", "summary", "buyer_answer", "recheck")
SERVER_DEVICE = "server"

_BODIES = {
    "inspection": InspectionBody, "correction": CorrectionBody, "void": VoidBody, "plan": PlanBody, "decision": DecisionBody,
    "admission": AdmissionBody, "summary": SummaryBody, "buyer_answer": BuyerAnswerBody, "recheck": RecheckBody,
}
_NEEDED = {
    "inspection": ("batch", "stage", "stove", "checklist", "checklist_hash"),
    "correction": ("batch", "stage", "stove", "corrects"),
    "void": ("batch", "stage", "stove", "corrects"),
    **dict.fromkeys(OWN_KINDS, ("batch",)),
}


class Event(Part):
    """One record as sealed on the phone. `tz_min`: minutes east of UTC of the phone's clock."""

    id: EventId
    kind: Literal[
        "inspection", "correction", "void", "photo_note", "device_report", "lesson", "admission",
        "plan", "decision", "summary", "buyer_answer", "recheck",
    ]
    device_id: Name
    dev_seq: Annotated[int, Field(ge=1)]
    inspector: Name
    batch: Name | None
    stage: Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^/]+$")] | None
    stove: Name | None
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
                raise ValueError(f"{self.kind} needs {field}")
        if self.kind in _BODIES:
            _check_body(_BODIES[self.kind], self.body)
        return self


def is_summary_body(body: Any) -> bool:
    """Whether a record's body has the form of an issued summary."""
    try:
        SummaryBody.model_validate(body)
    except ValidationError:
        return False
    return isinstance(body["proof"].get("summary"), dict) and "issued_at" in body["proof"]["summary"]


def _check_body(shape: type[Part], body: dict[str, Any]) -> None:
    try:
        shape.model_validate(body)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(["body", *map(str, first["loc"])])
        raise ValueError(f"{place}: {first['msg']}") from error


def canonical(value: Mapping[str, Any]) -> bytes:
    """UTF-8 bytes of the canonical JSON (RFC 8785) of `value`.

    BadInput when it holds what an event never holds: a number that is not a whole one within
    2**53 - 1 (how such numbers are written differs between languages), or a half character.
    """
    try:
        _refuse_floats(value)
        return rfc8785.dumps(value)
    except (ValueError, RecursionError) as error:
        raise BadInput(f"no canonical JSON: {error}", "event", "send whole numbers and text") from error


def _refuse_floats(value: Any) -> None:
    if isinstance(value, float):
        raise ValueError(f"{value} is not written as a whole number")
    children = value.values() if isinstance(value, Mapping) else value
    if isinstance(value, (Mapping, list, tuple)):
        for child in children:
            _refuse_floats(child)


def event_hash(raw: Mapping[str, Any]) -> str:
    """SHA-256, lower-case hex, of the canonical JSON of an event without its "hash"."""
    content = {key: value for key, value in raw.items() if key != "hash"}
    return hashlib.sha256(canonical(content)).hexdigest()


def build_uuid7(milliseconds: int, random_bits: int) -> str:
    """A UUID of version 7 (RFC 9562, section 5.7): Unix time, then 80 bits of which 6 are fixed.

    Twin of uuid7 in static/js/inspection/event.js.
    """
    number = (milliseconds << 80) | random_bits
    number = (number & ~(0xF << 76)) | (0x7 << 76)
    digits = f"{(number & ~(0x3 << 62)) | (0x2 << 62):032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


def stove_key(stage: str, stove: str) -> str:
    """The name under which a stove's events of one stage are kept together."""
    return f"{stage}/{stove}"
