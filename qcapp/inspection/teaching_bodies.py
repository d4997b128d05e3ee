"""What the records carry that the server makes for the artisans: the lot of the cards, skills."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from qcapp.inspection.event_parts import EventPart, IsoDay, Name, form_error

SkillLevel = Literal["learning", "works_alone", "teaches"]


class SkillBody(EventPart):
    """How far an artisan is with a step, as the trainer sees it; the newest counts. level: None
    takes it back.
    """

    artisan: Name
    step: Name
    level: SkillLevel | None


class AimBody(EventPart):
    """The step that a card names, as one checklist inspects it."""

    checklist: Name
    step: Name


class CardLotBody(EventPart):
    """Who gets the card first, drawn from the seed, and the step that each card named before the
    lot fell. first: from the day `since`; second: from the day `until`, which is `since` where
    everybody began at once.
    """

    seed: Name
    first: Annotated[list[Name], Field(max_length=1000)]
    second: Annotated[list[Name], Field(max_length=1000)]
    aims: dict[Name, AimBody]
    since: IsoDay
    until: IsoDay

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if self.until < self.since:
            raise form_error("until comes before since", ["until"], "value_error")
        if sorted([*self.first, *self.second]) != sorted(self.aims):
            raise form_error("aims are not those of the people drawn", ["aims"], "value_error")
        return self
