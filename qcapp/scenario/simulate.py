"""The scenario played through: every inspection, rework, slip and correction as sealed events."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random
from typing import Any, Literal

from qcapp.checklist.check_kinds import MeasureCheck
from qcapp.checklist.model import Checklist
from qcapp.inspection.disposition import allowed_dispositions
from qcapp.inspection.number import number_value
from qcapp.scenario.draw import AnswerDrawer, Maker, canonical_reading, list_to_ask_again
from qcapp.scenario.judging import judge, list_failed, name_faults
from qcapp.scenario.looks import Looks
from qcapp.scenario.model import MAX_REWORK_DAYS, MAX_REWORKS, Scenario, utc_text
from qcapp.scenario.pieces import Piece, WaitingPieces
from qcapp.scenario.schedule import Schedule, Work
from qcapp.scenario.seal import Record, make_record, seal_records
from qcapp.scenario.shot import Shot, take_shots

# A slip of the thumb: so many steps of the tool off.
MISTYPED_STEPS = 10


@dataclass(frozen=True)
class Surroundings:
    """What comes from outside the scenario.

    is_drawn: whether a stove, by its key, is one of those to be looked at twice; take_photo: keeps
    a picture of the shot and gives its name.
    """

    is_drawn: Callable[[str], bool]
    take_photo: Callable[[Shot], str]


def simulate_yard(
    scenario: Scenario,
    checklists: Iterable[Checklist],
    seed: int,
    today: date,
    surroundings: Surroundings | None = None,
) -> list[dict[str, Any]]:
    """All events of the phones before `today`, in the order of their capture.

    The same arguments give the same events, bit for bit. Each device's dev_seq runs from 1
    without a gap. Without surroundings nobody takes a photo or looks a second time. Raises BadInput
    when a checklist of the scenario is not given.
    """
    schedule = Schedule(
        scenario, {checklist.id: checklist for checklist in checklists}, seed, today
    )
    looks = Looks(schedule, surroundings.is_drawn if surroundings else None)
    player = _Player(scenario, seed, today, looks, surroundings)
    records: list[Record] = []
    for batch in scenario.batches:
        for work in schedule.list_work(batch):
            records += player.play(work)
    for held in scenario.held_back:
        records += list(player.play(schedule.place_held_back(held)))[:1]
    return seal_records(scenario, [*records, *looks.list_study_looks()])


class _Player:
    """Plays one article after the other; remembers how many stoves each artisan has made."""

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        today: date,
        looks: Looks,
        surroundings: Surroundings | None,
    ) -> None:
        self.scenario, self.seed, self.today = scenario, seed, today
        self.looks, self.surroundings = looks, surroundings
        self.person_by_code = {person.code: person for person in scenario.people}
        self.pieces = WaitingPieces(seed)
        self.made_from: dict[str, str] = {}
        self.made = Counter({person.code: person.stoves_before for person in scenario.people})

    def play(self, work: Work) -> Iterator[Record]:
        """The first pass, then re-inspections until it is good, given up or today."""
        answers = self._draw_answers(work, list(work.checklist.check_by_id), repaired=False)
        answers = self._photograph(work, self._build_in(work, answers))
        if work.stage is None:
            # Practice grows with finished stoves, not with looks at their parts.
            self.made.update(set(work.crew.values()))
        yield from self.looks.look_again(work, answers)
        at, reworks = work.shown_at, 0
        while True:
            body = self._build_body(work, answers, at, is_last=reworks == MAX_REWORKS)
            yield from self._record(work, body, at, is_first=reworks == 0)
            at += timedelta(
                days=work.rng.randint(1, MAX_REWORK_DAYS), minutes=work.rng.uniform(0, 60)
            )
            if body["disposition"]["kind"] in ("release", "concession"):
                self.pieces.put(Piece(work, answers))
            if body["disposition"]["kind"] != "rework" or at.date() >= self.today:
                return
            reworks += 1
            asked = list_to_ask_again(work.checklist.check_by_id, list_failed(work, answers))
            answers = self._draw_answers(work, asked, repaired=True)

    def _photograph(
        self, work: Work, answers: dict[str, dict[str, Any]]
    ) -> dict[str, dict[str, Any]]:
        """Some of the faults get a photo."""
        if self.surroundings is None:
            return answers
        # A stream of its own: the stove's other records stay as they were.
        seed = f"{self.seed}/photo/{work.checklist.stage}/{work.stove}"
        rng = Random(seed)  # noqa: S311 -- an invented yard
        shots = take_shots(work, answers, lambda: rng.random() < self.scenario.photographed)
        taken = {check: self.surroundings.take_photo(shot) for check, shot in shots.items()}
        return {
            check: {**answer, "photos": [taken[check]]} if check in taken else answer
            for check, answer in answers.items()
        }

    def _build_in(
        self, work: Work, answers: dict[str, dict[str, Any]]
    ) -> dict[str, dict[str, Any]]:
        """The pieces that this stove is made from, where that is recorded; what was found on them
        is found again.
        """
        self.made_from = {}
        for piece in self.pieces.take(work) if work.stage is None else ():
            self.made_from[piece.work.checklist.stage] = piece.work.stove
            answers = {**answers, **self.pieces.find_again(piece, work)}
        return name_faults(work, answers) if self.made_from else answers

    def _draw_answers(
        self, work: Work, check_ids: list[str], repaired: bool
    ) -> dict[str, dict[str, Any]]:
        """Answers to these checks; those whose condition is not met stay unanswered."""
        scenario = self.scenario
        drawer = AnswerDrawer(
            work.rng, scenario.habits, scenario.planted, work.batch.size, work.days_ago, repaired
        )
        not_met = {
            key for key, found in judge(work, {}).items() if found.reason == "condition-not-met"
        }
        answers = {}
        for check_id in check_ids:
            check = work.checklist.check_by_id[check_id]
            maker = self._find_maker(work.crew.get(check.step))
            answer = (
                {"values": [work.given[check_id]]}
                if check_id in work.given
                else drawer.draw(check, maker)
            )
            if answer is not None and check_id not in not_met:
                answers[check_id] = answer
        return name_faults(work, answers)

    def _find_maker(self, code: str | None) -> Maker:
        return Maker(None, 0) if code is None else Maker(self.person_by_code[code], self.made[code])

    def _build_body(
        self, work: Work, answers: dict[str, Any], at: datetime, is_last: bool
    ) -> dict[str, Any]:
        failed = list_failed(work, answers)
        severities = [work.checklist.check_by_id[key].severity for key in failed]
        return {
            "size": work.batch.size,
            "batch_attributes": dict(work.batch.attributes),
            "started_at": utc_text(at - timedelta(seconds=work.rng.randint(50, 140))),
            "crew": dict(work.crew),
            "answers": answers,
            "verdicts": {key: found.verdict for key, found in judge(work, answers).items()},
            "disposition": self._choose_disposition(work, severities, is_last),
            **({"made_from": dict(self.made_from)} if self.made_from else {}),
        }

    def _choose_disposition(
        self, work: Work, severities: Sequence[str], is_last: bool
    ) -> dict[str, Any]:
        allowed = allowed_dispositions(severities, False)
        if not severities:
            return {"kind": allowed[0]}
        outcomes, drawn = self.scenario.outcomes, work.rng.random()
        for kind, outcome in outcomes.items():
            if drawn < outcome.share and kind in allowed:
                return {"kind": kind, "reason": outcome.reason}
            drawn -= outcome.share
        given_up: Literal["scrap", "hold"] | None = "scrap" if is_last else None
        settled = work.stage.failed_goes if work.stage else given_up
        return (
            {"kind": settled, "reason": outcomes[settled].reason} if settled else {"kind": "rework"}
        )

    def _record(
        self, work: Work, body: dict[str, Any], at: datetime, is_first: bool
    ) -> Iterator[Record]:
        """The inspection; now and then with a slip in it and what puts it right."""
        mistakes = self.scenario.mistakes
        drawn = work.rng.random() if is_first else 1.0
        mistyped = self._mistype(work, body, at) if drawn < mistakes.mistyped else None
        first = make_record(work, "inspection", at, mistyped or body)
        yield first
        later = timedelta(minutes=work.rng.uniform(3, 20))
        if mistyped:
            correction = {"reason": mistakes.mistyped_reason, "replacement": body}
            yield make_record(work, "correction", at + later, correction, first.id)
        elif drawn > 1 - mistakes.twice and is_first:
            again = make_record(work, "inspection", at + later / 2, body)
            yield again
            yield make_record(work, "void", at + later, {"reason": mistakes.twice_reason}, again.id)

    def _mistype(self, work: Work, body: dict[str, Any], at: datetime) -> dict[str, Any] | None:
        """The body as first sent, with one reading wrong; None where nothing is measured."""
        checks = work.checklist.check_by_id
        answered = [checks[key] for key in body["answers"]]
        measured = [check for check in answered if isinstance(check, MeasureCheck)]
        if not measured:
            return None
        check = work.rng.choice(measured)
        answer = body["answers"][check.id]
        wrong = number_value(answer["values"][0]) + MISTYPED_STEPS * check.resolution
        replaced = {key: value for key, value in answer.items() if key != "fault"}
        answers = {
            **body["answers"],
            check.id: {**replaced, "values": [canonical_reading(wrong, check)]},
        }
        return self._build_body(work, name_faults(work, answers), at, is_last=False)
