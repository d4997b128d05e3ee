"""The scenario played through: every inspection, rework, slip and correction as sealed events."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal

from qcapp.checklist.model import Checklist, MeasureCheck
from qcapp.inspection.disposition import allowed_dispositions
from qcapp.inspection.event import EventContent, build_uuid7
from qcapp.inspection.judge import Judgement, counts_as_fail, judge_answers
from qcapp.inspection.number import number_value
from qcapp.scenario.draw import AnswerDrawer, Maker, canonical_reading, list_to_ask_again
from qcapp.scenario.model import MAX_REWORK_DAYS, MAX_REWORKS, Scenario, utc_text
from qcapp.scenario.pieces import Piece, WaitingPieces
from qcapp.scenario.schedule import Schedule, Work

# A slip of the thumb: so many steps of the tool off.
MISTYPED_STEPS = 10


@dataclass(frozen=True)
class Record:
    """An event before it has its number and seal."""

    id: str
    kind: str
    work: Work
    captured_at: datetime
    body: dict[str, Any]
    corrects: str | None = None


def simulate_yard(
    scenario: Scenario, checklists: Iterable[Checklist], seed: int, today: date
) -> list[dict[str, Any]]:
    """All events of the yard before `today`, in the order of their capture.

    The same arguments give the same events, bit for bit. Each device's dev_seq runs from 1
    without a gap. Raises BadInput when a checklist of the scenario is not given.
    """
    schedule = Schedule(
        scenario, {checklist.id: checklist for checklist in checklists}, seed, today
    )
    player = _Player(scenario, seed, today)
    records: list[Record] = []
    for batch in scenario.batches:
        for work in schedule.list_work(batch):
            records += player.play(work)
    return _seal(scenario, records)


class _Player:
    """Plays one article after the other; remembers how many stoves each artisan has made."""

    def __init__(self, scenario: Scenario, seed: int, today: date) -> None:
        self.scenario, self.today = scenario, today
        self.person_by_code = {person.code: person for person in scenario.people}
        self.pieces = WaitingPieces(seed)
        self.made_from: dict[str, str] = {}
        self.made = Counter({person.code: person.stoves_before for person in scenario.people})

    def play(self, work: Work) -> Iterator[Record]:
        """The first pass, then re-inspections until it is good, given up or today."""
        answers = self._draw_answers(work, list(work.checklist.check_by_id), repaired=False)
        answers = self._build_in(work, answers)
        if work.stage is None:
            # Practice grows with finished stoves, not with looks at their parts.
            self.made.update(set(work.crew.values()))
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
            failed = self._failed(work, self._judge(work, answers))
            asked = list_to_ask_again(work.checklist.check_by_id, failed)
            answers = self._draw_answers(work, asked, repaired=True)

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
        return self._name_faults(work, answers) if self.made_from else answers

    def _draw_answers(
        self, work: Work, check_ids: list[str], repaired: bool
    ) -> dict[str, dict[str, Any]]:
        """Answers to these checks; those whose condition is not met stay unanswered."""
        scenario = self.scenario
        drawer = AnswerDrawer(
            work.rng, scenario.habits, scenario.planted, work.batch.size, work.days_ago, repaired
        )
        not_met = {
            key
            for key, found in self._judge(work, {}).items()
            if found.reason == "condition-not-met"
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
        return self._name_faults(work, answers)

    def _find_maker(self, code: str | None) -> Maker:
        return Maker(None, 0) if code is None else Maker(self.person_by_code[code], self.made[code])

    def _name_faults(
        self, work: Work, answers: dict[str, dict[str, Any]]
    ) -> dict[str, dict[str, Any]]:
        """A reading beyond a limit gets the fault that the checklist names for that side."""
        for check_id, found in self._judge(work, answers).items():
            side = {"below-lower": "below", "above-upper": "above"}.get(found.reason)
            faults = [
                fault.id
                for fault in work.checklist.check_by_id[check_id].faults
                if fault.side == side
            ]
            if side and faults and check_id in answers:
                answers[check_id] = {**answers[check_id], "fault": faults[0]}
        return answers

    def _judge(self, work: Work, answers: dict[str, Any]) -> dict[str, Judgement]:
        context = {"size": work.batch.size, "batch": dict(work.batch.attributes)}
        return judge_answers(work.checklist, answers, context)

    def _failed(self, work: Work, judged: dict[str, Judgement]) -> list[str]:
        checks = work.checklist.check_by_id
        return [key for key, found in judged.items() if counts_as_fail(checks[key], found.verdict)]

    def _build_body(
        self, work: Work, answers: dict[str, Any], at: datetime, is_last: bool
    ) -> dict[str, Any]:
        judged = self._judge(work, answers)
        failed = self._failed(work, judged)
        severities = [work.checklist.check_by_id[key].severity for key in failed]
        return {
            "size": work.batch.size,
            "batch_attributes": dict(work.batch.attributes),
            "started_at": utc_text(at - timedelta(seconds=work.rng.randint(50, 140))),
            "crew": dict(work.crew),
            "answers": answers,
            "verdicts": {key: found.verdict for key, found in judged.items()},
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
        first = _make_record(work, "inspection", at, mistyped or body)
        yield first
        later = timedelta(minutes=work.rng.uniform(3, 20))
        if mistyped:
            correction = {"reason": mistakes.mistyped_reason, "replacement": body}
            yield _make_record(work, "correction", at + later, correction, first.id)
        elif drawn > 1 - mistakes.twice and is_first:
            again = _make_record(work, "inspection", at + later / 2, body)
            yield again
            yield _make_record(
                work, "void", at + later, {"reason": mistakes.twice_reason}, again.id
            )

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
        return self._build_body(work, self._name_faults(work, answers), at, is_last=False)


def _make_record(
    work: Work, kind: str, at: datetime, body: dict[str, Any], corrects: str | None = None
) -> Record:
    return Record(
        build_uuid7(int(at.timestamp() * 1000), work.rng.getrandbits(80)),
        kind,
        work,
        at,
        body,
        corrects,
    )


def _seal(scenario: Scenario, records: list[Record]) -> list[dict[str, Any]]:
    """Number each device's records in the order of capture and add their hashes."""
    numbers: dict[str, int] = defaultdict(int)
    events = []
    for record in sorted(records, key=lambda record: (record.captured_at, record.id)):
        work = record.work
        numbers[work.device.id] += 1
        content = EventContent(
            id=record.id,
            kind=record.kind,
            device_id=work.device.id,
            dev_seq=numbers[work.device.id],
            inspector=work.device.inspector,
            captured_at=utc_text(record.captured_at),
            app_build=scenario.app_build,
            body=record.body,
            batch=work.batch.code,
            stage=work.checklist.stage,
            stove=work.stove,
            checklist=work.checklist.key,
            checklist_hash=work.checklist.hash,
            tz_min=scenario.yard.tz_min,
            corrects=record.corrects,
        )
        events.append(content.seal())
    return events
