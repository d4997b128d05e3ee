"""Loads what is shown of one person at one step of one checklist, under the trainer's filters."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.observations import StepInspection
from qcapp.reports.apprentice import ArtisanStep
from qcapp.reports.artisans import ArtisanRow, StepTable
from qcapp.reports.faults import StepFaults
from qcapp.reports.lessons import LessonRow
from qcapp.store.engine import Store
from qcapp.store.queries import artisan_queries
from qcapp.usecases.load_trainer import find_steps
from qcapp.usecases.trainer_figures import TrainerFigures


@dataclass(frozen=True)
class PersonStepView:
    """row: the person in the table of the step; step: run by run. faults: None where none was
    found. lessons: on this step that the person was at, newest first. stoves: newest first; photos:
    the newest of faults.
    """

    row: ArtisanRow
    table: StepTable
    step: ArtisanStep
    faults: StepFaults | None
    lessons: tuple[LessonRow, ...]
    stoves: tuple[StepInspection, ...]
    photos: list[dict[str, Any]]


def load_person_step(
    store: Store, figures: TrainerFigures, ref: StepRef, code: str
) -> PersonStepView:
    """Raises NotFound where the person did nothing of this step under the filters."""
    table, row = _get_row(figures, ref, code)
    with store.reading() as connection:
        steps = find_steps(figures.history, figures.filters)
        own = [
            one
            for one in artisan_queries.list_step_inspections(
                connection, code, figures.counted, steps
            )
            if one.step == ref
        ]
        photos = artisan_queries.list_fault_photos(
            connection, code, [ref], since=figures.counted.since
        )
    report = figures.build_artisan(code, own)
    return PersonStepView(
        row=row,
        table=table,
        step=report.steps[0],
        faults=next((one for one in report.faults if (one.checklist, one.step) == ref), None),
        lessons=tuple(_list_lessons(figures, ref, code)),
        stoves=tuple(reversed(own)),
        photos=photos,
    )


def _get_row(figures: TrainerFigures, ref: StepRef, code: str) -> tuple[StepTable, ArtisanRow]:
    table = next((one for one in figures.step_tables if (one.checklist, one.step) == ref), None)
    row = next((one for one in table.rows if one.artisan == code), None) if table else None
    if table is None or row is None:
        raise NotFound(
            phrase("nothing was inspected of this step by this person"),
            f"{ref.checklist} {ref.step} {code}",
            phrase("see the table under Steps by people"),
        )
    return table, row


def _list_lessons(figures: TrainerFigures, ref: StepRef, code: str) -> Iterable[LessonRow]:
    return (
        one
        for one in figures.lesson_rows
        if one.lesson.step == ref.step
        and one.checklist in ("", ref.checklist)
        and code in one.lesson.people
    )
