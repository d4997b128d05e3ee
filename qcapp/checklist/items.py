"""What checks name or offer: parts, steps with key points, tools, faults, options."""

from typing import Literal

from pydantic import Field, StrictInt

from qcapp.checklist.frozen_model import FrozenModel, Id, Text

# More is a lesson, not what is kept in mind at the bench.
MAX_KEY_POINTS = 5


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
