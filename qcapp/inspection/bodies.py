"""What an event carries, by its kind."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator, with_config
from typing_extensions import TypedDict

from qcapp.inspection.batch_bodies import (
    BuyerAnswerBody,
    DecisionBody,
    PlanBody,
    RecheckBody,
    ReplyBody,
    SummaryBody,
)
from qcapp.inspection.disposition import needs_reason
from qcapp.inspection.event_parts import (
    Disposition,
    EventPart,
    Hash,
    Name,
    Note,
    Reading,
    Reason,
    UtcTime,
    Verdict,
    form_error,
)
from qcapp.inspection.holes import HolesPhoto
from qcapp.inspection.teaching_bodies import CardLotBody, SkillBody
from qcapp.inspection.yard_bodies import (
    FaultCostBody,
    GaugeBody,
    LessonPartBody,
    QuarantineDecisionBody,
    StudyBody,
    TemplateBody,
    TemplateReplacedBody,
    TrailBody,
    WorkHoursBody,
)

Thousandth = Annotated[int, Field(ge=0, le=1000)]


@with_config(EventPart.model_config)
class Answer(TypedDict, total=False):
    """What the inspector gave for one check; what was not given is absent.

    No object of its own: a push has a thousand, and nobody asks for more than their form.
    """

    mark: Literal["pass", "fail", "not_applicable", "cannot_measure", "gauge"] | None
    values: Annotated[list[Reading], Field(max_length=50)] | None
    option: Name | None
    fault: Name | None
    # The check counts once, under `fault`.
    more_faults: Annotated[list[Name], Field(max_length=50)] | None
    # How a tick was given: by itself, together with others of its part, or when its time was up.
    given: Literal["single", "group", "timed"] | None
    # Of a check that lasts: how long its load stood, by the phone's clock.
    timed_s: Annotated[int, Field(ge=0)] | None
    # Where on the drawing: thousandths of its width and height.
    place: Annotated[list[Thousandth], Field(min_length=2, max_length=2)] | None
    note: Note | None
    photos: list[Hash] | None
    # Of a check that a photo may answer: the pictures are among `photos`.
    holes: HolesPhoto | None


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
    # Serials of the pieces built in, by the stage at which they are inspected themselves.
    made_from: dict[Name, Name] | None = None
    # Who repaired what failed at the inspection before: artisan by check.
    reworked_by: dict[Name, Name] | None = None


class CorrectionBody(EventPart):
    reason: Reason
    replacement: InspectionBody


class VoidBody(EventPart):
    reason: Reason


class HoldDecisionBody(EventPart):
    """What the lead decided about a held stove; the event corrects the inspection, or the newest
    correction of it, that the lead saw. "hold" takes an earlier decision back.
    """

    disposition: DispositionChoice

    @model_validator(mode="after")
    def _has_reason(self) -> Self:
        if not (self.disposition.reason or "").strip():
            raise form_error("a decision needs a reason", ["disposition", "reason"], "missing")
        return self


class StudyAnswerBody(EventPart):
    """What one inspector gave on one look. study: the study's id, or "second-look"; stove: a serial
    of the
    study, or the stove's key (stage/serial) for a random second look."""

    study: Name
    stove: Name
    repeat: Annotated[int, Field(ge=1, le=5)]
    answers: dict[Name, Answer]


class FirstPieceBody(EventPart):
    """The first piece of a step: of a day, after a new template or tool, or after a fault was set
    right. Of no stove's history: it counts in no rate and releases nothing.

    verdicts, is_good: the phone's own, of the checks that were asked; the server judges again.
    """

    step: Name
    maker: Name
    reason: Literal["day", "new_tool", "set_right"]
    size: Name
    batch_attributes: dict[Name, str | bool | int]
    started_at: UtcTime
    answers: dict[Name, Answer]
    verdicts: dict[Name, Verdict]
    is_good: bool


class GaugeCheckBody(EventPart):
    """A template or gauge held to its master piece. gauge: id of its first record;
    held_against: id of the record with the value and tolerance that the phone judged by.
    """

    gauge: Name
    held_against: Name
    value: Reading
    verdict: Literal["pass", "fail"]


BODIES: dict[str, type[EventPart]] = {
    "inspection": InspectionBody,
    "correction": CorrectionBody,
    "void": VoidBody,
    "hold_decision": HoldDecisionBody,
    "plan": PlanBody,
    "decision": DecisionBody,
    "quarantine_decision": QuarantineDecisionBody,
    "summary": SummaryBody,
    "buyer_answer": BuyerAnswerBody,
    "recheck": RecheckBody,
    "reply": ReplyBody,
    "template": TemplateBody,
    "template_replaced": TemplateReplacedBody,
    "fault_cost": FaultCostBody,
    "work_hours": WorkHoursBody,
    "lesson_part": LessonPartBody,
    "first_piece": FirstPieceBody,
    "gauge": GaugeBody,
    "gauge_check": GaugeCheckBody,
    "study": StudyBody,
    "study_answer": StudyAnswerBody,
    "skill": SkillBody,
    "card_lot": CardLotBody,
    "trail": TrailBody,
}
