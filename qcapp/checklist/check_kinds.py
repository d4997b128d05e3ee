"""The kinds of check: what each has of its own, and what other rooms ask of a kind by its name."""

from typing import Annotated, Literal, get_args

from pydantic import Field, StrictBool, StrictInt, model_validator

from qcapp.checklist.base_check import BaseCheck, LengthCheck, NumberCheck, PhotoCheck, Statistic
from qcapp.checklist.expression import Tree, is_tree
from qcapp.checklist.frozen_model import Id, Number, Text
from qcapp.checklist.items import Option
from qcapp.i18n.phrase import phrase


class TickCheck(BaseCheck):
    label = phrase("tick")
    answer_key = "mark"
    kind: Literal["tick"]


class MeasureCheck(LengthCheck):
    """repeatability: the part of the uncertainty (k = 2) that differs from one reading to the
    next.
    """

    label = phrase("measurement")
    takes_second = True
    kind: Literal["measure"]
    repeatability: Number | None = Field(default=None, ge=0)


class CountCheck(PhotoCheck):
    """rows: by size, how many in each row; they add up to the exact count."""

    label = phrase("count")
    is_whole = True
    kind: Literal["count"]
    rows: dict[str, tuple[StrictInt, ...]] | None = None


class ReadingsCheck(LengthCheck):
    """n readings, one label each, judged by one figure made of them. gauge: whether one gauge that
    goes on everywhere may stand for them.
    """

    label = phrase("readings")
    kind: Literal["readings"]
    n: StrictInt = Field(ge=2, le=12)
    by: Statistic
    labels: tuple[Text, ...]
    gauge: StrictBool | None = None

    @property
    def reading_count(self) -> int:
        return self.n

    @property
    def reading_labels(self) -> tuple[Text, ...]:
        return self.labels

    @property
    def statistic(self) -> Statistic:
        return self.by


class ChoiceCheck(BaseCheck):
    label = phrase("choice")
    answer_key = "option"
    kind: Literal["choice"]
    options: tuple[Option, ...]


class CalculatedCheck(NumberCheck):
    """inputs: check ids; expression: a tree of expression.py."""

    label = phrase("calculated")
    answer_key = None
    kind: Literal["calculated"]
    inputs: tuple[Id, ...]
    expression: Tree

    @model_validator(mode="after")
    def _has_a_tree(self) -> "CalculatedCheck":
        if not is_tree(self.expression, set(self.inputs)):
            raise ValueError("expression is not a tree over the inputs")
        return self


Check = Annotated[
    TickCheck | MeasureCheck | CountCheck | ReadingsCheck | ChoiceCheck | CalculatedCheck,
    Field(discriminator="kind"),
]
# The class of each kind, by its name: whoever lists the kinds asks here.
CHECK_KINDS: dict[str, type[BaseCheck]] = {
    get_args(one.model_fields["kind"].annotation)[0]: one for one in get_args(get_args(Check)[0])
}
NUMBER_KINDS = tuple(name for name, one in CHECK_KINDS.items() if issubclass(one, NumberCheck))

# Those whose readings are typed.
TYPED_KINDS = tuple(name for name, one in CHECK_KINDS.items() if one.answer_key == "values")


def is_for_first_piece(severity: str | None, kind: str | None) -> bool:
    """Whether a first piece gets such a check: the critical and the measured ones."""
    return severity == "critical" or kind in TYPED_KINDS
