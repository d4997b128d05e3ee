"""The trainer's page of lessons: which were held, what changed since."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.i18n.phrase import phrase
from qcapp.usecases import record_lesson
from qcapp.usecases.record_lesson import HeldLesson
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow
from qcapp.web.trainer.figures import FiguresDep, figures_page

router = APIRouter(prefix="/trainer/lessons", include_in_schema=False)


TaughtStep = Annotated[str, Query(max_length=60)]
Taught = Annotated[str, Query(max_length=20)]


class LessonForm(BaseModel):
    held_on: date
    step: str
    people: Annotated[list[str], Field(min_length=1)]
    note: Annotated[str, StringConstraints(max_length=500)] = ""


@router.get("", dependencies=[allow("see_figures")])
def show_lessons(
    request: Request, figures: FiguresDep, now: NowDep, teach: TaughtStep = "", who: Taught = ""
) -> Response:
    """teach, who: id of the step and code of the person that the form starts with."""
    return figures_page(
        request,
        "trainer/lessons.html",
        figures,
        title=phrase("Lessons"),
        today=now.date().isoformat(),
        taught_step=teach,
        taught=who,
    )


@router.post("", dependencies=[allow("hold_lessons", "lesson_recorded")])
def add_lesson(
    store: StoreDep,
    figures: FiguresDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[LessonForm, Form()],
) -> Response:
    lesson = HeldLesson(form.held_on, form.step, form.people, form.note.strip())
    record_lesson.record_lesson(store, figures, lesson, by=by, now=now)
    return RedirectResponse("/trainer/lessons", status_code=303)


@router.post("/{lesson_id}/withdraw", dependencies=[allow("hold_lessons", "lesson_withdrawn")])
def withdraw_lesson(
    lesson_id: str, store: StoreDep, figures: FiguresDep, now: NowDep, by: AccountDep
) -> Response:
    record_lesson.withdraw_lesson(store, figures, lesson_id, by=by, now=now)
    return RedirectResponse("/trainer/lessons", status_code=303)
