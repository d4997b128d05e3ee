"""What the records carry that the yard's server makes for the yard itself."""

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from qcapp.inspection.event_parts import EventPart, Hash, IsoDay, Name, Note, Reason, form_error
from qcapp.inspection.number import CANONICAL_PATTERN


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


Amount = Annotated[str, Field(pattern=f"^{CANONICAL_PATTERN}$")]


class FaultCostBody(EventPart):
    """What one fault of a checklist's step costs the yard by its own reckoning; the newest counts.

    minutes: to repair it; material: money; pay: money an hour. Decimal text, None where not known.
    """

    checklist: Name
    step: Name
    minutes: Amount | None
    material: Amount | None
    pay: Amount | None
    currency: Annotated[str, Field(min_length=1, max_length=12)]


class WorkHoursBody(EventPart):
    """Hours of skilled work that these artisans needed for so many pieces, from one day to another;
    or {"withdraws": id of the record that was wrong}. step: None for the whole stove; hours: of all
    of them together, decimal text.
    """

    withdraws: Name | None = None
    step: Name | None = None
    artisans: Annotated[list[Name], Field(min_length=1)] | None = None
    hours: Amount | None = None
    pieces: Annotated[int, Field(ge=1)] | None = None
    since: IsoDay | None = None
    until: IsoDay | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        needed = ("artisans", "hours", "pieces", "since", "until")
        missing = [name for name in needed if getattr(self, name) is None]
        if self.withdraws is None and missing:
            raise form_error(f"{', '.join(missing)} missing", missing[:1], "missing")
        return self


class LessonPartBody(_Withdrawable):
    """A picture card or the voice note of a step's lesson, or {"withdraws": id of the record of
    one}. sha256, type, size: of the bytes as kept; caption: of a picture, empty for a voice note.
    """

    step: Name | None = None
    kind: Literal["picture", "voice"] | None = None
    sha256: Hash | None = None
    type: Name | None = None
    size: Annotated[int, Field(ge=1)] | None = None
    caption: Annotated[str, Field(max_length=200)] | None = None


Days = Annotated[int, Field(ge=1, le=3650)]


class GaugeBody(EventPart):
    """A template or gauge with its master piece, its tolerance and how its interval follows
    from checks (inspection/gauges.py); or {"withdraws": id of the first record of one that is no
    longer used, or of a check of one that was wrong}.

    gauge: id of its first record, None in that one; template: id of the record that says who
    shares it. step: the work it is for, or tool: the tool of the checklists that it is; one of
    the two. value, tolerance: decimal text in `unit`.
    """

    withdraws: Name | None = None
    gauge: Name | None = None
    kind: Literal["template", "gauge"] | None = None
    name: Name | None = None
    step: Name | None = None
    tool: Name | None = None
    template: Name | None = None
    piece: Name | None = None
    value: Amount | None = None
    tolerance: Amount | None = None
    unit: Annotated[str, Field(min_length=1, max_length=12)] | None = None
    interval_days: Days | None = None
    within_percent: Annotated[int, Field(ge=1, le=100)] | None = None
    longer_percent: Annotated[int, Field(ge=100, le=400)] | None = None
    shorter_percent: Annotated[int, Field(ge=1, le=100)] | None = None
    min_days: Days | None = None
    max_days: Days | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        optional = ("withdraws", "gauge", "step", "tool", "template")
        missing = [
            name
            for name in type(self).model_fields
            if name not in optional and getattr(self, name) is None
        ]
        if (self.step is None) == (self.tool is None):
            missing.append("step")
        if self.withdraws is None and missing:
            raise form_error(f"{', '.join(missing)} missing", missing[:1], "missing")
        return self


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


class TrailBody(EventPart):
    """Who did what on the server. action: a code of qcapp/access/audit_messages.py; about: codes
    and ids only, so that the log never holds a name or a secret.
    """

    action: Name
    about: dict[Name, Name]
