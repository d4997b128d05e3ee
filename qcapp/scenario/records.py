"""What the scenario file says beside inspections: lessons, a study, second looks, photos, a buyer's
question, a record of a batch that nobody opened.
"""

from typing import Annotated

from pydantic import Field

from qcapp.checklist.frozen_model import FrozenModel

Share = Annotated[float, Field(ge=0, le=1)]
Code = Annotated[str, Field(pattern=r"^[A-Z][A-Z0-9-]*$")]


class ScenarioLesson(FrozenModel):
    step: str
    artisans: tuple[Code, ...] = Field(min_length=1)
    days_ago: int = Field(ge=1)
    note: str = ""


class ScenarioStudy(FrozenModel):
    """Stoves by number in the batch, each looked at `repeats` times by each inspector.

    Planned the day before `days_ago`, on which all look.
    """

    title: str
    checklist: str
    batch: str
    stoves: tuple[int, ...] = Field(min_length=2)
    inspectors: tuple[Code, ...] = Field(min_length=2)
    checks: tuple[str, ...] = Field(min_length=1)
    repeats: int = Field(ge=1)
    days_ago: int = Field(ge=1)


class LookAgain(FrozenModel):
    """How another look at the same stove differs: shares of checks by eye that pass at one look and
    fail at the other (found), or the other way round (lost).
    """

    found: Share
    lost: Share


class ScenarioQuestion(FrozenModel):
    """Asked about the batch's newest summary, which is issued the day before."""

    batch: str
    by: str
    text: str
    days_ago: int = Field(ge=1)


class HeldBack(FrozenModel):
    """A stove inspected by this inspector under a batch that the lead has not opened."""

    like_batch: str
    batch: str
    stove: str
    inspector: Code
    days_ago: int = Field(ge=1)
