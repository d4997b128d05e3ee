"""What an event carries, by its kind: strict about types, unknown fields kept."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from qcapp.inspection.disposition import needs_reason
from qcapp.inspection.number import CANONICAL_PATTERN

Verdict = Literal["pass", "fail", "doubtful", "not_applicable", "missing"]
Disposition = Literal["release", "rework", "concession", "scrap", "hold"]

Severity = Literal["critical", "major", "minor"]
BatchOutcome = Literal["accept", "reject", "not_ready"]
Count = Annotated[int, Field(ge=0)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Reading = Annotated[str, Field(pattern=f"^{CANONICAL_PATTERN}$")]
Name = Annotated[str, Field(min_length=1, max_length=100)]
Note = Annotated[str, Field(max_length=2000)]
Reason = Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]


def _is_real_time(text: str) -> str:
    datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)
    return text


UtcTime = Annotated[
    str,
    Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z$"),
    AfterValidator(_is_real_time),
]


def _is_real_day(text: str) -> str:
    date.fromisoformat(text)
    return text


IsoDay = Annotated[
    str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"), AfterValidator(_is_real_day)
]


def form_error(text: str, at: Sequence[str | int], problem: str) -> PydanticCustomError:
    """Where and what, as data beside the English; qcapp/sync/quarantine_reasons.py words it."""
    given = {"text": text, "at": tuple(at), "problem": problem}
    return PydanticCustomError("form", "{text}", given)


class EventPart(BaseModel):
    """Base of everything inside an event: strict about types, unknown fields kept."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)


class Answer(EventPart):
    """What the inspector gave for one check; what was not given is absent."""

    mark: Literal["pass", "fail", "not_applicable"] | None = None
    values: Annotated[list[Reading], Field(max_length=50)] | None = None
    option: Name | None = None
    fault: Name | None = None
    note: Note | None = None
    photos: list[Hash] | None = None


class DispositionChoice(EventPart):
    kind: Disposition
    reason: Note | None = None

    @model_validator(mode="after")
    def _has_reason_where_needed(self) -> Self:
        if needs_reason(self.kind) and not (self.reason or "").strip():
            raise form_error(f"{self.kind} needs a reason", ["reason"], "missing")
        return self


class InspectionBody(EventPart):
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


class CorrectionBody(EventPart):
    reason: Reason
    replacement: InspectionBody


class VoidBody(EventPart):
    reason: Reason


class _Withdrawable(EventPart):
    """Either {"withdraws": id of the record that was wrong}, or all the other fields."""

    withdraws: Name | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        missing = [
            name
            for name in type(self).model_fields
            if name != "withdraws" and getattr(self, name) is None
        ]
        if self.withdraws is None and missing:
            raise form_error(f"{', '.join(missing)} missing", missing[:1], "missing")
        return self


class TemplateBody(_Withdrawable):
    """A template with which these artisans do a step."""

    step: Name | None = None
    name: Name | None = None
    artisans: Annotated[list[Name], Field(min_length=1)] | None = None


class TemplateReplacedBody(_Withdrawable):
    """From this day on the step is done with a new or mended template, or another cause is gone."""

    step: Name | None = None
    artisans: Annotated[list[Name], Field(min_length=1)] | None = None
    on: IsoDay | None = None
    note: Note | None = None


class StudyBody(EventPart):
    """A planned agreement study, or {"closes": id of one}. seed: what the blind orders are made
    from.
    """

    closes: Name | None = None
    title: Name | None = None
    checklist_hash: Hash | None = None
    batch: Name | None = None
    stoves: Annotated[list[Name], Field(min_length=1, max_length=60)] | None = None
    inspectors: Annotated[list[Name], Field(min_length=2, max_length=10)] | None = None
    repeats: Annotated[int, Field(ge=1, le=5)] | None = None
    checks: Annotated[list[Name], Field(min_length=1)] | None = None
    seed: Name | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        missing = [
            name
            for name in type(self).model_fields
            if name != "closes" and getattr(self, name) is None
        ]
        if self.closes is None and missing:
            raise form_error(f"{', '.join(missing)} missing", missing[:1], "missing")
        return self


class StudyAnswerBody(EventPart):
    """What one inspector gave on one look. study: the study's id, or "second-look"; stove: a serial
    of the
    study, or the stove's key (stage/serial) for a random second look."""

    study: Name
    stove: Name
    repeat: Annotated[int, Field(ge=1, le=5)]
    answers: dict[Name, Answer]


class QuarantineDecisionBody(EventPart):
    """What a person decided about a quarantined record; `original_hash` says which content under
    the id.

    event: the content that counts from now on, under the same id; only with "accept".
    """

    action: Literal["accept", "reject"]
    reason: Reason
    original_hash: Hash
    event: dict[str, Any] | None = None

    @model_validator(mode="after")
    def _has_event_when_accepted(self) -> Self:
        if (self.action == "accept") != (self.event is not None):
            problem = "missing" if self.event is None else "superfluous"
            raise form_error("event goes with accept, and only with it", ["event"], problem)
        return self


class PlanLimit(EventPart):
    """aql: percent as printed in the table, None for critical."""

    severity: Severity
    aql: Name | None
    n: Count
    ac: Count
    re: Count


class PlanBody(EventPart):
    """What was agreed for a batch. sample: serials in the order they were drawn; empty when every
    stove.
    """

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


class StoredMessage(EventPart):
    """A sentence as data: qcapp/i18n/messages.py."""

    code: Name
    params: dict[str, Any]


class DecisionBody(EventPart):
    """A person overrules the computed decision; it holds as long as decision and reasons stay
    these.
    """

    computed: BatchOutcome
    reasons: list[StoredMessage]
    final: BatchOutcome
    reason: Reason


class LotBody(EventPart):
    """What a summary means for the inspection of the next batches; result is None when it does not
    count.
    """

    design: Name
    result: Literal["accepted", "gap", "rejected"] | None
    may_reduce: bool
    is_restart: bool


class SummaryBody(EventPart):
    number: Annotated[int, Field(ge=1)]
    sha256: Hash
    lot: LotBody
    proof: dict[str, Any]


class BuyerAnswerBody(EventPart):
    """About one issued summary; link: what the yard called the buyer's link."""

    answer: Literal["accept", "reject", "question"]
    note: Note
    number: Annotated[int, Field(ge=1)]
    sha256: Hash
    link: Name


class RecheckBody(EventPart):
    """The buyer's re-check of n stoves of the batch, failed of them not as agreed."""

    n: Annotated[int, Field(ge=1)]
    failed: Count
    note: Note
    number: Annotated[int, Field(ge=1)]
    link: Name

    @model_validator(mode="after")
    def _counts_fit(self) -> Self:
        if self.failed > self.n:
            text = f"{self.failed} failed of {self.n} cannot be"
            raise form_error(text, ["failed"], "less_than_equal")
        return self


class TrailBody(EventPart):
    """Who did what on the server. action: a code of qcapp/access/audit_messages.py; about: codes
    and ids only, so that the log never holds a name or a secret.
    """

    action: Name
    about: dict[Name, Name]


BODIES: dict[str, type[EventPart]] = {
    "inspection": InspectionBody,
    "correction": CorrectionBody,
    "void": VoidBody,
    "plan": PlanBody,
    "decision": DecisionBody,
    "quarantine_decision": QuarantineDecisionBody,
    "summary": SummaryBody,
    "buyer_answer": BuyerAnswerBody,
    "recheck": RecheckBody,
    "template": TemplateBody,
    "template_replaced": TemplateReplacedBody,
    "study": StudyBody,
    "study_answer": StudyAnswerBody,
    "trail": TrailBody,
}
