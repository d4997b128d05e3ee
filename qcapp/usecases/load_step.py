"""Loads what is shown of one step of one checklist, under the trainer's filters."""

from dataclasses import dataclass
from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.reports.artisans import StepTable
from qcapp.reports.faults import StepFaults
from qcapp.reports.lessons import LessonRow
from qcapp.reports.teach import TeachRow
from qcapp.store.engine import Store
from qcapp.store.queries.artisan_queries import list_step_photos
from qcapp.usecases.trainer_figures import TrainerFigures

# So many photos are read until one is found that is here whole.
NEWEST_PHOTOS = 4
# Of all steps together, so that a page of many steps asks once.
NEWEST_OF_ALL = 24


@dataclass(frozen=True)
class StepView:
    """faults: None where none was found; lessons: newest first."""

    row: TeachRow
    table: StepTable
    faults: StepFaults | None
    lessons: tuple[LessonRow, ...]


def find_step(figures: TrainerFigures, ref: StepRef) -> StepView:
    """Raises NotFound where nothing was inspected of it under the filters."""
    row = next((row for row in figures.teach_rows if row.ref == ref), None)
    if row is None:
        raise NotFound(
            phrase("nothing was inspected of this step"),
            f"{ref.checklist} {ref.step}",
            phrase("see the list of steps under Teach next"),
        )
    return StepView(
        row=row,
        table=next(one for one in figures.step_tables if (one.checklist, one.step) == ref),
        faults=next((one for one in figures.step_faults if (one.checklist, one.step) == ref), None),
        lessons=tuple(
            one
            for one in figures.lesson_rows
            if one.lesson.step == ref.step and one.checklist in ("", ref.checklist)
        ),
    )


def list_photos(store: Store, figures: TrainerFigures, ref: StepRef) -> list[dict[str, Any]]:
    """The newest photos of the step's faults."""
    with store.reading() as connection:
        return list_step_photos(connection, {ref}, figures.counted)


def find_photo_of_commonest(
    store: Store, figures: TrainerFigures, view: StepView
) -> dict[str, Any] | None:
    """The newest photo of the step's commonest fault that is here whole."""
    if view.faults is None:
        return None
    commonest = view.faults.rows[0]
    with store.reading() as connection:
        photos = list_step_photos(
            connection,
            {view.row.ref},
            figures.counted,
            (commonest.check_id, commonest.fault),
            limit=NEWEST_PHOTOS,
        )
    return next((photo for photo in photos if photo["is_whole"]), None)


def list_photos_by_step(store: Store, figures: TrainerFigures) -> dict[StepRef, dict[str, Any]]:
    """The newest photo of a fault of each step, among the newest of all that are here whole."""
    steps = {StepRef(one.checklist, one.step) for one in figures.step_faults}
    with store.reading() as connection:
        photos = list_step_photos(connection, steps, figures.counted, limit=NEWEST_OF_ALL)
    found: dict[StepRef, dict[str, Any]] = {}
    for photo in photos:
        check = photo["check"]
        if photo["is_whole"]:
            found.setdefault(StepRef(check.checklist, figures.checks[check].step), photo)
    return found
