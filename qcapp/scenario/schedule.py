"""When each article is shown, to whom, and who made it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.scenario.model import Scenario, ScenarioBatch, ScenarioDevice, ScenarioStage
from qcapp.scenario.records import HeldBack

OPENS_AT_MIN = 8 * 60
OPEN_MINUTES = 7 * 60
# Inspectors take turns in blocks of so many articles.
BLOCK = 3


@dataclass(frozen=True)
class Slot:
    """A serial's place in its row: shown on the day `days_ago`, as one of `per_day`."""

    stove: str
    index: int
    days_ago: int
    per_day: int


@dataclass(frozen=True)
class Work:
    """One article before an inspector. shown_at: UTC; stage: None for the finished stove.

    given: readings already settled, by check id; rng: the article's own random numbers.
    """

    batch: ScenarioBatch
    stage: ScenarioStage | None
    checklist: Checklist
    stove: str
    days_ago: int
    shown_at: datetime
    device: ScenarioDevice
    crew: Mapping[str, str]
    given: Mapping[str, str]
    rng: Random


class Schedule:
    """Places every article of a scenario on a day, a minute and a phone."""

    def __init__(
        self, scenario: Scenario, checklists: Mapping[str, Checklist], seed: int, today: date
    ) -> None:
        self.scenario, self.checklists, self.seed = scenario, checklists, seed
        self.midnight = datetime.combine(today, time(), UTC) - timedelta(
            minutes=scenario.yard.tz_min
        )

    def list_work(self, batch: ScenarioBatch) -> Iterator[Work]:
        """The batch's articles, stages before the finished stove first. Raises BadInput for a
        checklist that is not there.
        """
        for stage in batch.stages:
            listed = stage.values or ({},) * stage.count
            slots = list_slots(
                stage.serial_prefix,
                len(listed),
                batch.opened_days_ago + stage.days_before,
                batch.work_days,
            )
            for slot, given in zip(slots, listed, strict=True):
                yield self._place(batch, stage, slot, given)
        for slot in list_slots(
            batch.serial_prefix, batch.inspected, batch.opened_days_ago, batch.work_days
        ):
            yield self._place(batch, None, slot, {})

    def _place(
        self,
        batch: ScenarioBatch,
        stage: ScenarioStage | None,
        slot: Slot,
        given: Mapping[str, str],
    ) -> Work:
        checklist = self.get_checklist(stage.checklist if stage else batch.checklist)
        # One stream of numbers an article: a change to one leaves the others as they were.
        rng = Random(f"{self.seed}/{checklist.stage}/{slot.stove}")  # noqa: S311 -- an invented yard
        minutes = (
            OPENS_AT_MIN
            + slot.index % slot.per_day * OPEN_MINUTES / slot.per_day
            + rng.uniform(0, 12)
        )
        devices = self.list_devices(slot.days_ago)
        return Work(
            batch=batch,
            stage=stage,
            checklist=checklist,
            stove=slot.stove,
            days_ago=slot.days_ago,
            shown_at=self.get_time(slot.days_ago, minutes),
            device=devices[slot.index // BLOCK % len(devices)],
            crew=_draw_crew(rng, batch, checklist),
            given=given,
            rng=rng,
        )

    def get_time(self, days_ago: int, minutes: float) -> datetime:
        """UTC; minutes: since midnight in the yard."""
        return self.midnight - timedelta(days=days_ago) + timedelta(minutes=minutes)

    def list_devices(self, days_ago: int) -> list[ScenarioDevice]:
        """Those in use on that day."""
        return [
            device
            for device in self.scenario.devices
            if device.until_days_ago is None or days_ago >= device.until_days_ago
        ]

    def place_held_back(self, held: HeldBack) -> Work:
        """A stove of a batch that was never opened, made like those of another one."""
        like = next(batch for batch in self.scenario.batches if batch.code == held.like_batch)
        batch = like.model_copy(update={"code": held.batch, "stages": ()})
        work = self._place(batch, None, Slot(held.stove, 0, held.days_ago, 1), {})
        devices = self.list_devices(held.days_ago)
        own = next(device for device in devices if device.inspector == held.inspector)
        return replace(work, device=own)

    def get_checklist(self, checklist_id: str) -> Checklist:
        """Raises BadInput."""
        if checklist_id not in self.checklists:
            raise BadInput(
                "the scenario names a checklist that does not exist",
                checklist_id,
                "give its YAML file",
            )
        return self.checklists[checklist_id]


def list_slots(serial_prefix: str, count: int, first_days_ago: int, days: int) -> Iterator[Slot]:
    """`count` serials spread evenly over `days` days from the first one on."""
    per_day = -(-count // days)
    for index in range(count):
        yield Slot(
            f"{serial_prefix}{index + 1:03d}",
            index,
            first_days_ago - index * days // count,
            per_day,
        )


def _draw_crew(rng: Random, batch: ScenarioBatch, checklist: Checklist) -> dict[str, str]:
    """{step: artisan}: one artisan a trade for a whole article, drawn from the batch's pool."""
    by_trade = {trade: rng.choice(pool) for trade, pool in sorted(batch.crew_pool.items())}
    return {step.id: by_trade[step.trade] for step in checklist.steps if step.trade in by_trade}
