"""What the trainer's pages, files and the API show, from what the store holds under the filters."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, StepRef, list_works
from qcapp.checklist.items import Step
from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import phrase
from qcapp.inspection.filters import Filters
from qcapp.inspection.observations import StepInspection
from qcapp.inspection.report_counts import FaultCount, SideCount, StepTally
from qcapp.reports.apprentice import ArtisanReport, build_artisan_report
from qcapp.reports.artisans import StepTable, build_step_tables
from qcapp.reports.escapes import StageEscapes
from qcapp.reports.faults import StepFaults, build_step_faults
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.lessons import Lesson, LessonRow, build_lesson_rows
from qcapp.reports.teach import TeachRow, build_teach_rows, find_step_to_teach, sort_by_burden
from qcapp.usecases.load_pieces import PieceView


@dataclass(frozen=True)
class TrainerSums:
    """parts: (inspected, failed) by checklist and part."""

    tallies: tuple[StepTally, ...]
    faults: tuple[FaultCount, ...]
    parts: Mapping[tuple[str, str], tuple[int, int]]


@dataclass(frozen=True)
class TaughtLessons:
    """counts: of the days around each, by id."""

    lessons: tuple[Lesson, ...]
    counts: Mapping[str, list[SideCount]]


@dataclass(frozen=True)
class TrainerFigures:
    """What the store holds under the filters. What only some pages show is read when it is asked
    for: sums, lessons, pieces, escapes, each in one consistent view. Reports likewise.

    filters: as asked; counted: with the first day of the newest half year where nothing said how
    far back.
    """

    filters: Filters
    counted: Filters
    rule: ApprenticeRule
    min_count: int
    history: ChecklistHistory
    people: Mapping[str, Mapping[str, Any]]
    batches: tuple[Mapping[str, Any], ...]
    read_sums: Callable[[], TrainerSums]
    read_lessons: Callable[[], TaughtLessons]
    read_pieces: Callable[[], PieceView]
    read_escapes: Callable[[], list[StageEscapes]]

    @property
    def checklists(self) -> tuple[Checklist, ...]:
        """Those in use."""
        return tuple(self.history.current.values())

    @property
    def steps(self) -> dict[StepRef, Step]:
        return self.history.steps

    @property
    def checks(self) -> dict[CheckRef, Check]:
        return self.history.checks

    @cached_property
    def works(self) -> dict[str, list[Step]]:
        """What a lesson can be about: steps by id, whichever checklists inspect them."""
        return list_works(self.checklists)

    @cached_property
    def sums(self) -> TrainerSums:
        return self.read_sums()

    @property
    def tallies(self) -> tuple[StepTally, ...]:
        return self.sums.tallies

    @property
    def faults(self) -> tuple[FaultCount, ...]:
        return self.sums.faults

    @property
    def parts(self) -> Mapping[tuple[str, str], tuple[int, int]]:
        return self.sums.parts

    @cached_property
    def taught(self) -> TaughtLessons:
        return self.read_lessons()

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        return self.taught.lessons

    @cached_property
    def teach_rows(self) -> list[TeachRow]:
        return build_teach_rows(
            self.tallies, self.steps, self.people, rule=self.rule, min_count=self.min_count
        )

    @cached_property
    def step_tables(self) -> list[StepTable]:
        return build_step_tables(
            self.tallies, self.steps, self.people, rule=self.rule, min_count=self.min_count
        )

    @cached_property
    def rows_by_burden(self) -> list[TeachRow]:
        return sort_by_burden(self.teach_rows)

    @cached_property
    def row_to_teach(self) -> TeachRow | None:
        return find_step_to_teach(self.teach_rows)

    @cached_property
    def step_faults(self) -> list[StepFaults]:
        return build_step_faults(self.faults, self.steps, self.checks, self.people, self.tallies)

    @cached_property
    def lesson_rows(self) -> list[LessonRow]:
        return build_lesson_rows(
            self.lessons, self.taught.counts, self.steps, self.people, min_count=self.min_count
        )

    @cached_property
    def pieces(self) -> PieceView:
        return self.read_pieces()

    @cached_property
    def escapes(self) -> list[StageEscapes]:
        return self.read_escapes()

    def build_artisan(self, code: str, own: Iterable[StepInspection]) -> ArtisanReport:
        return build_artisan_report(
            code,
            own,
            self.tallies,
            self.faults,
            self.steps,
            self.checks,
            people=self.people,
            rule=self.rule,
        )


def describe_apprentices(figures: TrainerFigures, now: datetime) -> str:
    """The rule in words and who it names today."""
    rule = figures.rule
    if rule.stoves is not None:
        return phrase(
            "An apprentice has done the step on fewer than %(stoves)s stoves. If a person began "
            "before the first record of the step, that number is unknown: such a person is an "
            "apprentice in the first %(days)s days.",
            stoves=rule.stoves,
            days=rule.days,
        )
    today = now.date()
    names = [
        f"{person['name']} ({code})"
        for code, person in figures.people.items()
        if person["trades"]
        and person["started_on"]
        and (today - _day(person["started_on"])).days <= rule.days
    ]
    who = names or phrase("nobody")
    return phrase(
        "An apprentice is in the first %(days)s days of work. Each stove counts by the day it "
        "was made. Today: %(who)s.",
        days=rule.days,
        who=who,
    )


def _day(text: str) -> date:
    return date.fromisoformat(text)
