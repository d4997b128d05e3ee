"""The yard lead's page about pace: stoves shown in a hurry, and random second looks."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.inspection.study import SECOND_LOOK_ONE_IN
from qcapp.reports.inspection_pace import MIN_READINGS, MIN_RUN, QUICK_SECONDS
from qcapp.usecases.form import OpenForm
from qcapp.usecases.second_look import (
    NEWEST,
    SecondLook,
    load_pace,
    load_second_look,
    record_second_look,
)
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.measuring.sheet import build_sheet, read_sheet
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


class LookForm(OpenForm):
    """Further fields: the cells of the sheet."""

    inspector: str = ""


@router.get("/yard/pace", dependencies=[allow("measure")])
def show_pace(request: Request, store: StoreDep) -> Response:
    found = load_pace(store)
    return page(
        request,
        "measuring/pace.html",
        title=phrase("Pace and second looks"),
        signals=found.signals,
        names=found.names,
        asked=found.asked,
        report=found.report,
        errors=found.errors,
        one_in=SECOND_LOOK_ONE_IN,
        quick_seconds=QUICK_SECONDS,
        min_run=MIN_RUN,
        min_readings=MIN_READINGS,
        newest=NEWEST,
        span=span,
    )


@router.get("/yard/pace/{stage}/{serial}", dependencies=[allow("measure")])
def show_second_look(request: Request, stage: str, serial: str, store: StoreDep) -> Response:
    return _sheet_page(request, load_second_look(store, f"{stage}/{serial}"), LookForm(), "")


@router.post(
    "/yard/pace/{stage}/{serial}",
    dependencies=[allow("measure", "second_look_entered")],
)
def add_second_look(
    request: Request,
    stage: str,
    serial: str,
    store: StoreDep,
    now: NowDep,
    form: Annotated[LookForm, Form()],
) -> Response:
    asked = load_second_look(store, f"{stage}/{serial}")
    try:
        inspector = _read_inspector(form, asked)
        ((_stove, _repeat, answers),) = read_sheet(form.values, [(serial, 1)], asked.checks)
    except BadInput as error:
        return _sheet_page(request, asked, form, str(error))
    record_second_look(store, asked.stove, inspector, answers, now)
    return RedirectResponse("/yard/pace", status_code=303)


def _read_inspector(form: LookForm, asked: SecondLook) -> str:
    if form.inspector not in asked.inspectors:
        raise BadInput(
            phrase("choose another inspector"), "inspector", phrase("choose from the list")
        )
    return form.inspector


def _sheet_page(request: Request, asked: SecondLook, form: LookForm, error: str) -> Response:
    serial = asked.stove.partition("/")[2]
    answer = page(
        request,
        "measuring/second_look_sheet.html",
        title=phrase("Second look at %(serial)s", serial=serial),
        key=asked.stove,
        inspectors=asked.inspectors,
        form=form,
        error=error,
        row=build_sheet([(serial, 1)], asked.checks, (), form.values)[0],
    )
    answer.status_code = 400 if error else 200
    return answer


def span(seconds: int) -> str:
    """In words a person says: 50 seconds, 4 minutes."""
    return (
        phrase_n("%(n)s second", "%(n)s seconds", seconds)
        if seconds < 90
        else phrase("%(n)s minutes", n=round(seconds / 60))
    )
