"""A checklist as the phone receives it: frozen, complete, known by its hash.

The shape of `compiled()` is the JSON that is kept and sent; `load.py` makes it from YAML.
"""

import hashlib
from collections.abc import Iterator
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, get_args

import rfc8785
from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    StrictBool,
    StrictFloat,
    StrictInt,
    StringConstraints,
    ValidationError,
    model_validator,
)

from qcapp.checklist.expression import Tree, is_tree
from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase

ID_PATTERN = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
Id = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=60)]
Text = dict[str, str]  # language -> words; "en" is always there
# Within a thousand million both sides hold it exactly; not-a-number and infinity never get in.
Number = Annotated[StrictInt | StrictFloat, Field(ge=-(10**9), le=10**9, allow_inf_nan=False)]
Severity = Literal["critical", "major", "minor"]
DecisionRule = Literal["simple", "guarded"]
Statistic = Literal["smallest", "largest", "mean", "range"]
# What a photo of holes gives, beside their number: see photo.py.
PhotoFigure = Literal["margin", "web", "width"]


# A shorter time needs no clock, a longer one no inspector beside it.
MIN_LASTS, MAX_LASTS = 5, 3600
# More is a lesson, not what is kept in mind at the bench.
MAX_KEY_POINTS = 5


class FrozenModel(BaseModel):
    """Base of what is read from a file: never changed, and a key it does not know is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Part(FrozenModel):
    id: Id
    title: Text


class KeyPoint(FrozenModel):
    """What makes or breaks a step, in few words, with its reason: a way of doing whose reason is
    known is kept when nobody looks.

    References: War Manpower Commission (1944). The Training Within Industry Report and the Job
    Instruction session outline, Washington: important steps, key points, reasons.
    """

    do: Text
    why: Text


class Step(FrozenModel):
    """rework_minutes: what mending one fault of the step costs, where the yard has set it.
    key_points: what a learner is told of the step, the most important first.
    """

    id: Id
    trade: Id
    title: Text
    rework_minutes: StrictInt | None = Field(default=None, ge=1)
    key_points: tuple[KeyPoint, ...] = Field(default=(), max_length=MAX_KEY_POINTS)


class Tool(FrozenModel):
    """What checks are done with: a rag, a lamp, a rule. A walk by tool takes each in hand once."""

    id: Id
    title: Text


class Fault(FrozenModel):
    """side: the limit whose crossing means this fault, or None; picture: what it looks like, by
    its name in the folder pictures, or None.
    """

    id: Id
    title: Text
    side: Literal["below", "above"] | None
    picture: Id | None = None


class Option(FrozenModel):
    """picture: as of a fault."""

    id: Id
    title: Text
    verdict: Literal["pass", "fail"]
    fault: Id | None
    picture: Id | None = None


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


class TickCheck(BaseCheck):
    label = phrase("tick")
    answer_key = "mark"
    kind: Literal["tick"]


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


# Absent where not given, so that a checklist from before they existed keeps its hash.
OPTIONAL = (
    "rows",
    "rework_minutes",
    "guard_factor",
    "repeatability",
    "twice_lower",
    "twice_upper",
    "picture",
    "asked_again",
    "should_be_caught_by",
    "may_not_apply",
    "lasts_seconds",
    "tool",
    "after",
    "gauge",
    "photo",
    "figure",
)
# The folder of pictures of checks, faults and options, beside the checklists; also in the names of
# the reference and in static/phone/js.
PICTURES = "pictures"

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


def name_picture(picture: str) -> str:
    """The file of a picture, as the reference and the server name it."""
    return f"{PICTURES}/{picture}.svg"


def list_shown(compiled: dict[str, Any]) -> set[str]:
    """Names of the SVG files that show a checklist (its JSON shape): round-stove.svg,
    pictures/tape-across.svg, ... Whatever part of it may have a picture: a check, a fault.
    """
    return {compiled["drawing"], *(name_picture(name) for name in _find_pictures(compiled))}


def _find_pictures(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(named := part.get("picture"), str):
            yield named
        part = list(part.values())
    for inner in part if isinstance(part, list) else ():
        yield from _find_pictures(inner)


class Checklist(FrozenModel):
    """stage: what is looked at (a finished stove, or what is made before it).

    made_from: stages whose pieces, with serials of their own, are built into this one; the phone
    asks for these serials. same_serial: earlier stages of this very piece, under its own serial.
    tools: in the order in which they are taken in hand. first_piece: steps whose first piece of a
    day, or after a new template or tool, is checked before more are made.
    """

    id: Id
    revision: StrictInt = Field(ge=1)
    title: Text
    stage: Id
    made_from: tuple[Id, ...] = ()
    same_serial: tuple[Id, ...] = ()
    drawing: str
    sizes: tuple[Id, ...]
    tools: tuple[Tool, ...] = ()
    first_piece: tuple[Id, ...] = ()
    parts: tuple[Part, ...]
    steps: tuple[Step, ...]
    checks: tuple[Check, ...]

    @property
    def key(self) -> str:
        """The name in an event: finished-stove@1."""
        return f"{self.id}@{self.revision}"

    @cached_property
    def check_by_id(self) -> dict[str, Check]:
        """Read only."""
        return {check.id: check for check in self.checks}

    @cached_property
    def step_by_id(self) -> dict[str, Step]:
        """Read only."""
        return {step.id: step for step in self.steps}

    @cached_property
    def hash(self) -> str:
        """sha256 (hex) of the RFC 8785 canonical JSON of compiled()."""
        return hashlib.sha256(rfc8785.dumps(self.compiled())).hexdigest()

    def compiled(self) -> dict[str, Any]:
        """The JSON shape; keys that do not concern a check's kind are absent."""
        compiled = self.model_dump(mode="json")
        inner = [
            one
            for check in compiled["checks"]
            for one in (
                *check.get("limits", {}).values(),
                *check["faults"],
                *check.get("options", ()),
            )
        ]
        for part in (*compiled["checks"], *compiled["steps"], *inner):
            for name in OPTIONAL:
                if part.get(name, ()) is None:
                    del part[name]
        for owner, name in (
            *((compiled, name) for name in ("made_from", "same_serial", "tools", "first_piece")),
            *((step, "key_points") for step in compiled["steps"]),
        ):
            if not owner[name]:
                del owner[name]
        return compiled

    @classmethod
    def from_compiled(cls, compiled: dict[str, Any]) -> "Checklist":
        """Read the JSON shape back, as kept in the store or sent by a phone.

        Raises BadInput that names the first key that does not fit.
        """
        try:
            return cls.model_validate(compiled)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            place = ".".join(str(step) for step in first["loc"])
            raise BadInput(
                phrase("not a checklist: %(msg)s", msg=first["msg"]),
                place,
                phrase("send it as the server sent it"),
            ) from error
