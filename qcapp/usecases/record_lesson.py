"""Record a lesson that was held, or withdraw the record."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.trainer_figures import TrainerFigures


@dataclass(frozen=True)
class HeldLesson:
    held_on: date
    step: str
    people: Sequence[str]
    note: str


def record_lesson(
    store: Store, figures: TrainerFigures, lesson: HeldLesson, *, by: str, now: datetime
) -> None:
    """Raises BadInput."""
    unknown = [code for code in lesson.people if code not in figures.people]
    if lesson.step not in figures.works or unknown:
        raise BadInput(
            phrase("there is no such step or artisan"),
            ", ".join([lesson.step, *unknown]),
            phrase("choose from the lists"),
        )
    if lesson.held_on > now.date():
        raise BadInput(
            phrase("the lesson is in the future"),
            "held_on",
            phrase("record it once it has been held"),
        )
    body = {
        "held_on": lesson.held_on.isoformat(),
        "step": lesson.step,
        "people": sorted(set(lesson.people)),
        "note": lesson.note,
    }
    record_server_event(store, kind="lesson", recorder=by, body=body, now=now)


def withdraw_lesson(
    store: Store, figures: TrainerFigures, lesson_id: str, *, by: str, now: datetime
) -> None:
    """Raises NotFound."""
    if lesson_id not in {lesson.id for lesson in figures.lessons}:
        raise NotFound(
            phrase("there is no such lesson"), lesson_id, phrase("reload the list of lessons")
        )
    body = {"withdraws": lesson_id}
    record_server_event(store, kind="lesson", recorder=by, body=body, now=now)
