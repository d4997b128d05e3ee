"""What every check has, and every check of a number: limits, the photo that may give its figure.

The kinds are in check_kinds.py.
"""

from typing import ClassVar, Literal

from pydantic import Field, StrictBool, StrictInt, model_validator

from qcapp.checklist.frozen_model import FrozenModel, Id, Number, Text
from qcapp.checklist.items import Fault
from qcapp.i18n.phrase import Phrase

Severity = Literal["critical", "major", "minor"]
DecisionRule = Literal["simple", "guarded"]
Statistic = Literal["smallest", "largest", "mean", "range"]
# What a photo of holes gives, beside their number: see photo.py.
PhotoFigure = Literal["margin", "web", "width"]
# A shorter time needs no clock, a longer one no inspector beside it.
MIN_LASTS, MAX_LASTS = 5, 3600


class Possible(FrozenModel):
    """A reading outside these is a slip of the thumb or the tool, not a fault."""

    lower: Number
    upper: Number


class Limits(FrozenModel):
    """In the check's unit; None = no such limit. accept_* are drawn in by the uncertainty times the
    guard factor, twice_* by that of the mean of two readings (None: accept_* hold for it too)."""

    lower: Number | None
    nominal: Number | None
    upper: Number | None
    accept_lower: Number | None
    accept_upper: Number | None
    twice_lower: Number | None = None
    twice_upper: Number | None = None


class BaseCheck(FrozenModel):
    """picture: a line picture of how it is done, by its name in the folder pictures, or None;
    asked_again: where an earlier stage asks it too, why the answer can be another by now;
    should_be_caught_by: by earlier stage, its checks that should have caught a fault found here;
    may_not_apply: whether an inspector may say that it does not apply to a stove; lasts_seconds:
    how long a load stands on it, or None; tool: what it is done with; after: checks that must have
    been made before it is safe.

    Of a kind, and all that other rooms ask of it. label: its name on pages; answer_key: the key of
    an answer that holds what the inspector gave, None where it is calculated from other answers;
    reading_count: how many readings are taken; reading_labels: a name for each where there are
    several.
    """

    label: ClassVar[Phrase]
    answer_key: ClassVar[Literal["mark", "option", "values"] | None]

    id: Id
    part: Id
    step: Id
    severity: Severity
    ask: Text
    how: Text
    caution: Text | None
    basis: str
    when: dict[str, StrictBool | StrictInt | str]
    faults: tuple[Fault, ...]
    picture: Id | None = None
    asked_again: Text | None = None
    should_be_caught_by: dict[Id, tuple[Id, ...]] | None = None
    may_not_apply: StrictBool | None = None
    lasts_seconds: StrictInt | None = Field(default=None, ge=MIN_LASTS, le=MAX_LASTS)
    tool: Id | None = None
    after: tuple[Id, ...] | None = None

    @model_validator(mode="after")
    def _is_asked_where_it_can_hurt(self) -> "BaseCheck":
        if self.may_not_apply and self.severity == "critical":
            raise ValueError("a critical check always applies")
        return self

    @property
    def reading_count(self) -> int:
        return 0

    @property
    def reading_labels(self) -> tuple[Text, ...]:
        return ()


class NumberCheck(BaseCheck):
    """Judged by one figure against limits. is_whole: readings are whole numbers; takes_second: a
    doubtful reading may be followed by a second one; statistic: the figure made of the readings.
    """

    answer_key: ClassVar[Literal["values"] | None] = "values"
    is_whole: ClassVar[bool] = False
    takes_second: ClassVar[bool] = False

    unit: str
    resolution: Number
    uncertainty: Number
    decision: DecisionRule
    possible: Possible
    limits: dict[str, Limits]
    # How much of the uncertainty keeps a reading from a limit; None: all of it (1).
    guard_factor: Number | None = Field(default=None, ge=0)

    @property
    def reading_count(self) -> int:
        return 1 if self.answer_key else 0

    @property
    def statistic(self) -> Statistic:
        return "smallest"

    def limits_for(self, size: str) -> Limits | None:
        """Limits of that size, or None where the checklist does not know the size."""
        return self.limits.get(size)


class PhotoCheck(NumberCheck):
    """A check whose figure may be taken from a photo. photo: of what, or None; figure: which one:
    the smallest margin from a hole to the edge, the smallest web between two holes, or the mean
    width of all holes.
    """

    photo: Literal["holes"] | None = None

    @property
    def photo_figure(self) -> PhotoFigure | None:
        return None


class LengthCheck(PhotoCheck):
    figure: PhotoFigure | None = None

    @property
    def photo_figure(self) -> PhotoFigure | None:
        return self.figure if self.photo else None
