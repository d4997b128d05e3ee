"""Loads what the trainer's reports are made from, once for pages, files and the API."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.report_counts import SideCount
from qcapp.reports.groups import ApprenticeRule
from qcapp.reports.lessons import Lesson, find_windows
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import trainer_queries
from qcapp.store.registry import batches, people
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.load_escapes import load_escapes
from qcapp.usecases.load_pieces import load_pieces
from qcapp.usecases.trainer_figures import TaughtLessons, TrainerFigures, TrainerSums


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
