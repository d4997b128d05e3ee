"""Looks at a stove beside its inspection: second looks by someone else, and studies."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from random import Random

from qcapp.inspection.event import normalize_stove_key
from qcapp.inspection.study import SECOND_LOOK, order_looks
from qcapp.scenario.judging import Answers, name_faults
from qcapp.scenario.lead_acts import build_study
from qcapp.scenario.look_again import look_again
from qcapp.scenario.records import ScenarioStudy
from qcapp.scenario.schedule import OPENS_AT_MIN, Schedule, Work
from qcapp.scenario.seal import Record, build_id

# On these last days nobody has come to it yet, so some stoves still wait for a second look.
WAITING_DAYS = 6
MINUTES_A_LOOK = 2


@dataclass(frozen=True)
class _Seen:
    work: Work
    answers: Answers


class Looks:
    """is_drawn: whether a stove, by its key, is one of those to be looked at twice."""

    def __init__(self, schedule: Schedule, is_drawn: Callable[[str], bool] | None) -> None:
        self.schedule, self.scenario = schedule, schedule.scenario
        self.is_drawn = is_drawn
        self.seen: dict[tuple[str, str], _Seen] = {}

    def look_again(self, work: Work, answers: Answers) -> Iterator[Record]:
        """The second look at a stove that is drawn, before anything is mended."""
        if work.stage is None:
            self.seen[work.batch.code, work.stove] = _Seen(work, answers)
        key = f"{work.checklist.stage}/{work.stove}"
        is_asked = self.is_drawn is not None and self.is_drawn(normalize_stove_key(key))
        if not is_asked or self.scenario.look_again is None or work.days_ago <= WAITING_DAYS:
            return
        rng = Random(f"{self.schedule.seed}/second/{key}")  # noqa: S311 -- an invented yard
        others = [
            device
            for device in self.schedule.list_devices(work.days_ago)
            if device.inspector != work.device.inspector
        ]
        at = work.shown_at + timedelta(minutes=rng.uniform(10, 40))
        again = look_again(rng, work.checklist, answers, self.scenario.look_again)
        body = {
            "study": SECOND_LOOK,
            "stove": key,
            "repeat": 1,
            "answers": name_faults(work, again),
        }
        bits = rng.getrandbits(80)
        yield Record(build_id(at, bits), "study_answer", rng.choice(others), at, body, None)

    def list_study_looks(self) -> Iterator[Record]:
        """Every inspector's looks at the stoves of each study, in the order asked for."""
        for told in self.scenario.studies:
            yield from self._list_looks(told)

    def _list_looks(self, told: ScenarioStudy) -> Iterator[Record]:
        study = build_study(self.schedule, told)
        for device in self.schedule.list_devices(told.days_ago):
            if device.inspector not in study.inspectors:
                continue
            seed = f"{self.schedule.seed}/study/{told.title}/{device.id}"
            rng = Random(seed)  # noqa: S311 -- an invented yard
            start = self.schedule.get_time(told.days_ago, OPENS_AT_MIN)
            for place, (stove, repeat) in enumerate(order_looks(study, device.inspector)):
                at = start + timedelta(minutes=MINUTES_A_LOOK * place + rng.random())
                body = {
                    "study": study.id,
                    "stove": stove,
                    "repeat": repeat,
                    "answers": self._look(rng, told, stove),
                }
                yield Record(
                    build_id(at, rng.getrandbits(80)), "study_answer", device, at, body, None
                )

    def _look(self, rng: Random, told: ScenarioStudy, stove: str) -> Answers:
        """What the stove was like when it was first shown; only the study's checks."""
        seen, habit = self.seen[told.batch, stove], self.scenario.look_again
        asked = {key: seen.answers[key] for key in told.checks if key in seen.answers}
        again = asked if habit is None else look_again(rng, seen.work.checklist, asked, habit)
        return name_faults(seen.work, again)
