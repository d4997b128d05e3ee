"""Loads what the trainer's reports are made from, once for pages, files and the API."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property, partial
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, StepRef, list_works
from qcapp.checklist.items import Step
from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.tallies import FaultCount, Filters, SideCount, StepInspection, StepTally
from qcapp.reports.apprentice import ArtisanReport, build_artisan_report
from qcapp.reports.artisans import StepTable, build_step_tables
from qcapp.reports.escapes import StageEscapes
from qcapp.reports.faults import StepFaults, build_step_faults
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.lessons import Lesson, LessonRow, build_lesson_rows, find_windows
from qcapp.reports.teach import TeachRow, build_teach_rows, find_step_to_teach, sort_by_burden
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import artisan_queries, trainer_queries
from qcapp.store.registry import batches, people
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.load_escapes import load_escapes
from qcapp.usecases.load_pieces import PieceView, load_pieces


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


SEE_NAMES = phrase("see the names under Steps by people")


def load_artisan(
    store: Store, figures: TrainerFigures, code: str, *, see: str = SEE_NAMES
) -> ArtisanReport:
    """Raises NotFound. see: where the artisans' codes are found."""
    if code not in figures.people:
        raise NotFound(phrase("there is no such artisan"), code, see)
    with store.reading() as connection:
        own = artisan_queries.list_step_inspections(
            connection, code, figures.counted, find_steps(figures.history, figures.filters)
        )
    return figures.build_artisan(code, own)


def list_fault_photos(
    store: Store, figures: TrainerFigures, report: ArtisanReport
) -> list[dict[str, Any]]:
    """The newest photos of the artisan's faults."""
    steps = [StepRef(step.checklist, step.step) for step in report.steps]
    with store.reading() as connection:
        return artisan_queries.list_fault_photos(
            connection, report.artisan, steps, since=figures.counted.since
        )


def find_steps(history: ChecklistHistory, filters: Filters) -> set[StepRef] | None:
    """The steps of the filtered trade; None: all."""
    if filters.trade is None:
        return None
    return {ref for ref, step in history.steps.items() if step.trade == filters.trade}


def _bound(connection: Connection, filters: Filters) -> Filters:
    """Without a day or a batch only the newest half year counts, so that a page costs no more as
    years go by.
    """
    if filters.has_all_days or filters.since or filters.until or filters.batch:
        return filters
    return replace(filters, since=trainer_queries.find_first_day(connection))


def load_figures(store: Store, settings: Settings, filters: Filters) -> TrainerFigures:
    with store.reading() as connection:
        history = load_history(connection)
        steps = find_steps(history, filters)
        counted = _bound(connection, filters)
        has_made_before = bool(settings.apprentice_stoves)
        return TrainerFigures(
            filters=filters,
            counted=counted,
            rule=ApprenticeRule(
                settings.apprentice_days,
                settings.apprentice_stoves or None,
                trainer_queries.find_first_days(connection),
            ),
            min_count=settings.min_count,
            history=history,
            people={person["code"]: person for person in people.list_people(connection)},
            batches=tuple(batches.list_current_batches(connection)),
            read_sums=partial(_load_sums, store, counted, steps, has_made_before=has_made_before),
            read_lessons=partial(_load_lessons, store, history, filters),
            read_pieces=partial(load_pieces, store, history, counted),
            read_escapes=partial(load_escapes, store, history, counted),
        )


def _load_sums(
    store: Store, counted: Filters, steps: set[StepRef] | None, *, has_made_before: bool
) -> TrainerSums:
    with store.reading() as connection:
        return TrainerSums(
            tuple(
                trainer_queries.list_step_tallies(
                    connection, counted, steps, has_made_before=has_made_before
                )
            ),
            tuple(trainer_queries.list_fault_counts(connection, counted, steps)),
            {
                (row.checklist, row.part): (row.inspected, row.failed)
                for row in trainer_queries.list_part_counts(connection, counted, steps)
            },
        )


def _load_lessons(store: Store, history: ChecklistHistory, filters: Filters) -> TaughtLessons:
    steps = find_steps(history, filters)
    with store.reading() as connection:
        lessons = _list_lessons(log.list_by_kind(connection, "lesson"))
        counts = _count_lessons(
            connection, filters, lessons, history.steps if steps is None else steps
        )
    return TaughtLessons(tuple(lessons), counts)


def _count_lessons(
    connection: Connection, filters: Filters, lessons: list[Lesson], steps: Collection[StepRef]
) -> dict[str, list[SideCount]]:
    windows = find_windows(lessons)
    return {
        lesson.id: trainer_queries.count_around(
            connection,
            filters,
            {ref for ref in steps if ref.step == lesson.step},
            lesson.held_on,
            windows[lesson.id],
        )
        for lesson in lessons
    }


def _list_lessons(events: Iterable[Mapping[str, Any]]) -> list[Lesson]:
    struck = {event["body"]["withdraws"] for event in events if "withdraws" in event["body"]}
    return [
        Lesson(event["id"], body["held_on"], body["step"], tuple(body["people"]), body["note"])
        for event in events
        if "withdraws" not in (body := event["body"]) and event["id"] not in struck
    ]


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
