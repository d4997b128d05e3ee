"""The scenario file: who works in the invented yard, on what, and which causes are planted.

Days are counted back from the day on which the demo is shown, so that it never grows old.
"""

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Literal

import yaml
from pydantic import Field, ValidationError, model_validator

from qcapp.checklist.frozen_model import FrozenModel
from qcapp.errors import BadInput
from qcapp.scenario.records import (
    Code,
    HeldBack,
    LookAgain,
    ScenarioLesson,
    ScenarioQuestion,
    ScenarioStudy,
    Share,
)

# Rework is looked at again at most so many times and so many days later each time;
# a batch may not close before that.
MAX_REWORKS = 2
MAX_REWORK_DAYS = 2


class Yard(FrozenModel):
    """tz_min: minutes east of UTC of the phones' clocks. for_buyers: what its summaries tell of
    it, by the names of qcapp/usecases/tell_buyers.py.
    """

    name: str
    tz_min: int
    for_buyers: dict[str, str] = Field(default_factory=dict)


class Order(FrozenModel):
    """The buyer's: its number, that of the contract, how many stoves."""

    number: str
    contract: str
    ordered: int = Field(ge=1)


class ScenarioPerson(FrozenModel):
    """stoves_before: made before the first batch. *_times: own factor on odds and spread."""

    code: Code
    name: str
    trades: tuple[str, ...] = ()
    started_days_ago: int | None = None
    stoves_before: int = 0
    odds_times: float = 1
    spread_times: float = 1
    is_inspector: bool = False


class ScenarioDevice(FrozenModel):
    """until_days_ago: in use until that day; unsent: so many records it still kept when it was last
    heard of.
    """

    id: str
    name: str
    inspector: Code
    until_days_ago: int | None = None
    unsent: int = Field(default=0, ge=0)


class Habits(FrozenModel):
    """How faults come about where nothing is planted.

    Odds of a fault by eye or count: odds of its rate x ((1 + made) / (1 + practised)) ** -learning,
    so their logarithm falls in a straight line with log(1 + stoves made). Standard deviation of
    a reading: spread_share x distance from nominal to limit x the same ratio ** (-learning / 4).
    """

    practised_stoves: int = Field(gt=0)
    learning: float = Field(ge=0)
    fault_rate: Share
    fault_rates: dict[str, Share] = Field(default_factory=dict)
    spread_share: float = Field(gt=0)
    # For checks whose limits name no usual figure: check id -> the figure here.
    levels: dict[str, float] = Field(default_factory=dict)


class Outcome(FrozenModel):
    """Share of the failed stoves that go this way where the severity allows it."""

    share: Share
    reason: str


class Mistakes(FrozenModel):
    """Shares of inspections that are mistyped and corrected, or recorded twice and voided."""

    mistyped: Share
    mistyped_reason: str
    twice: Share
    twice_reason: str


class Planted(FrozenModel):
    """One cause hidden in the data: it acts on one check where one of these artisans worked.

    shift: added to every reading, in the check's unit; drift_per_day: added for each day since
    the first one; odds_times: factor on the odds of a fault by eye. It acts on stoves shown from
    `from_days_ago` on and before `until_days_ago`, such as the day after a lesson.
    """

    id: str
    about: str
    check: str
    artisans: tuple[Code, ...]
    from_days_ago: int | None = None
    until_days_ago: int | None = None
    shift: float = 0
    drift_per_day: float = 0
    odds_times: float = 1

    @model_validator(mode="after")
    def _acts(self) -> "Planted":
        if not self.shift and not self.drift_per_day and self.odds_times == 1:
            raise ValueError("give shift, drift_per_day or odds_times")
        if self.drift_per_day and self.from_days_ago is None:
            raise ValueError("a drift needs from_days_ago")
        if self.until_days_ago is not None and self.until_days_ago >= (self.from_days_ago or 1e9):
            raise ValueError("it must begin before it ends")
        return self


class SharedTemplate(FrozenModel):
    """A template for a step that these artisans share, as the yard lead has entered it."""

    name: str
    step: str
    artisans: tuple[Code, ...] = Field(min_length=1)


class ScenarioStage(FrozenModel):
    """Inspections at a stage of making before the finished stove: `count` articles, or the listed
    ones.

    values: what was read on each listed article, by check id; other checks are drawn.
    failed_goes: what becomes of a failed one (a fired liner or a kiln load is not reworked).
    linked: so many stoves of the batch, its first ones, have their piece of this stage recorded.
    """

    checklist: str
    serial_prefix: str
    days_before: int = Field(ge=1)
    count: int = 0
    values: tuple[dict[str, str], ...] = ()
    failed_goes: Literal["scrap", "hold"]
    linked: int = Field(default=0, ge=0)


class ScenarioBatch(FrozenModel):
    """crew_pool: by trade, who takes turns; the first one is the batch's default crew.

    Of `planned` stoves, `inspected` have been shown by today, over `work_days` days.
    """

    code: str
    title: str
    size: str
    planned: int
    inspected: int
    serial_prefix: str
    checklist: str
    attributes: dict[str, bool | int | str] = Field(default_factory=dict)
    opened_days_ago: int
    work_days: int = Field(ge=1)
    closed_days_ago: int | None = None
    crew_pool: dict[str, tuple[Code, ...]]
    stages: tuple[ScenarioStage, ...] = ()
    order: Order | None = None

    @model_validator(mode="after")
    def _closes_after_its_work(self) -> "ScenarioBatch":
        last_day = self.opened_days_ago - self.work_days + 1
        if last_day < 1:
            raise ValueError("the work must end a day before today")
        if (
            self.closed_days_ago is not None
            and self.closed_days_ago >= last_day - MAX_REWORKS * MAX_REWORK_DAYS
        ):
            raise ValueError(
                f"closes before the last rework: put closed_days_ago under {last_day - 4}"
            )
        if self.inspected > self.planned:
            raise ValueError("more inspected than planned")
        return self

    @property
    def checklist_ids(self) -> list[str]:
        """The finished stove's checklist first, then those of the other stages."""
        return [self.checklist, *(stage.checklist for stage in self.stages)]


class Scenario(FrozenModel):
    about: str
    seed: int
    app_build: str
    yard: Yard
    people: tuple[ScenarioPerson, ...]
    devices: tuple[ScenarioDevice, ...]
    habits: Habits
    outcomes: dict[Literal["concession", "scrap", "hold"], Outcome]
    mistakes: Mistakes
    planted: tuple[Planted, ...]
    templates: tuple[SharedTemplate, ...] = ()
    batches: tuple[ScenarioBatch, ...]
    lessons: tuple[ScenarioLesson, ...] = ()
    studies: tuple[ScenarioStudy, ...] = ()
    questions: tuple[ScenarioQuestion, ...] = ()
    held_back: tuple[HeldBack, ...] = ()
    # None: nobody looks again. Without photographed, no fault has a photo.
    look_again: LookAgain | None = None
    photographed: Share = 0

    @model_validator(mode="after")
    def _settles_what_is_given_up(self) -> "Scenario":
        missing = {"scrap", "hold"} - set(self.outcomes)
        if missing:
            raise ValueError(f"outcomes lack {', '.join(sorted(missing))}")
        return self

    @model_validator(mode="after")
    def _names_known_people(self) -> "Scenario":
        by_code = {person.code: person for person in self.people}
        named = {code for cause in self.planted for code in cause.artisans}
        named |= {code for template in self.templates for code in template.artisans}
        named |= {device.inspector for device in self.devices}
        named |= {code for lesson in self.lessons for code in lesson.artisans}
        pools = [
            (batch, trade, code)
            for batch in self.batches
            for trade, pool in batch.crew_pool.items()
            for code in pool
        ]
        unknown = sorted((named | {code for _, _, code in pools}) - set(by_code))
        if unknown:
            raise ValueError(f"nobody has the code {', '.join(unknown)}")
        for batch, trade, code in pools:
            person = by_code[code]
            if trade not in person.trades:
                raise ValueError(f"batch {batch.code}: {code} does not have the trade {trade}")
            if (person.started_days_ago or 0) < batch.opened_days_ago:
                raise ValueError(f"batch {batch.code}: {code} had not started yet")
        return self

    def list_people(self, today: date) -> list[dict[str, Any]]:
        """code, name, trades, started_on (ISO date or None), is_inspector of everybody."""
        return [
            {
                "code": person.code,
                "name": person.name,
                "trades": list(person.trades),
                "started_on": _days_before(today, person.started_days_ago),
                "is_inspector": person.is_inspector,
            }
            for person in self.people
        ]

    def list_batches(self, today: date) -> list[dict[str, Any]]:
        """The batches as the store keeps them; closed_at (UTC text) is None while one is open."""
        return [
            {
                "code": batch.code,
                "title": batch.title,
                "size": batch.size,
                "planned": batch.planned,
                "attributes": dict(batch.attributes),
                "crew": {trade: pool[0] for trade, pool in batch.crew_pool.items()},
                "checklist_ids": batch.checklist_ids,
                "serial_prefix": batch.serial_prefix,
                "opened_on": _days_before(today, batch.opened_days_ago),
                **_list_order(batch.order),
                "closed_at": None
                if batch.closed_days_ago is None
                else utc_text(
                    datetime.combine(today, time(), UTC) - timedelta(days=batch.closed_days_ago)
                ),
            }
            for batch in self.batches
        ]


def _list_order(order: Order | None) -> dict[str, Any]:
    if order is None:
        return {}
    return {"order_no": order.number, "contract_no": order.contract, "ordered": order.ordered}


def load_scenario(path: Path) -> Scenario:
    """Read the file. Raises BadInput naming the first key that does not fit."""
    try:
        return Scenario.model_validate(yaml.safe_load(path.read_text(encoding="utf-8")))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        raise BadInput(
            f"scenario: {first['msg']}", f"{path.name} {place}", "correct this key"
        ) from error
    except (OSError, yaml.YAMLError) as error:
        raise BadInput(
            f"scenario cannot be read: {error}", str(path), "give a readable YAML file"
        ) from error


def utc_text(moment: datetime) -> str:
    """A moment as events write it: 2026-11-25T08:00:00.000Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _days_before(today: date, days: int | None) -> str | None:
    return None if days is None else (today - timedelta(days=days)).isoformat()
