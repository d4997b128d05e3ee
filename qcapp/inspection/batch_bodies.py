"""What the records between the yard and its buyer carry."""

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from qcapp.inspection.event_parts import (
    BatchOutcome,
    Count,
    EventPart,
    Hash,
    Name,
    Note,
    Reason,
    Severity,
    form_error,
)


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
    regime: Name | None
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


class RecheckedStove(EventPart):
    """One stove as the buyer's inspector found it: the checks that were made again, by their id."""

    serial: Name
    checks: Annotated[dict[Name, Literal["pass", "fail"]], Field(min_length=1)]
    note: Note
    photos: list[Hash]


class ReplyBody(EventPart):
    """What the yard replies to what a buyer wrote. answers: hash of the record it replies to."""

    answers: Hash
    note: Reason


class RecheckBody(EventPart):
    """The buyer's re-check of n stoves of the batch, failed of them not as agreed. stoves: those of
    them, where they were entered one by one.
    """

    n: Annotated[int, Field(ge=1)]
    failed: Count
    note: Note
    number: Annotated[int, Field(ge=1)]
    link: Name
    stoves: list[RecheckedStove] = Field(default_factory=list)

    @model_validator(mode="after")
    def _counts_fit(self) -> Self:
        if self.failed > self.n:
            text = f"{self.failed} failed of {self.n} cannot be"
            raise form_error(text, ["failed"], "less_than_equal")
        found = sum("fail" in stove.checks.values() for stove in self.stoves)
        if self.stoves and (len(self.stoves), found) != (self.n, self.failed):
            text = f"{found} of {len(self.stoves)} stoves failed, not {self.failed} of {self.n}"
            raise form_error(text, ["stoves"], "superfluous")
        return self
