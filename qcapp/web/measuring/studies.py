"""The yard lead's pages about agreement: plan a study, fill in a sheet, read what it shows."""

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.usecases import plan_study
from qcapp.usecases.form import OpenForm
from qcapp.usecases.load_studies import (
    StudySheet,
    list_batches_to_study,
    load_studies,
    load_study_sheet,
)
from qcapp.usecases.plan_study import StudyPlan
from qcapp.web.deps import MAX_SHEET_FIELDS, NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.measuring.sheet import build_sheet, read_sheet
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


class StudyForm(BaseModel):
    """stoves: serials with blanks or commas between."""

    title: Annotated[str, StringConstraints(min_length=1, max_length=100)]
    checklist: str
    batch: str
    stoves: Annotated[str, StringConstraints(max_length=4000)]
    inspectors: list[str]
    checks: list[str]
    repeats: Annotated[int, Field(ge=1, le=5)] = 2

    def plan(self) -> StudyPlan:
        return StudyPlan(
            title=self.title.strip() or "Study",
            checklist=self.checklist,
            batch=self.batch,
            stoves=list(dict.fromkeys(self.stoves.replace(",", " ").split())),
            inspectors=self.inspectors,
            checks=self.checks,
            repeats=self.repeats,
            seed=secrets.token_hex(8),
        )


@router.get("/yard/studies", dependencies=[allow("measure")])
def show_studies(request: Request, store: StoreDep, checklist: str = "") -> Response:
    context = load_studies(store)
    usual = sorted(context.current, key=lambda one: one.stage != "finished")
    named = [one for one in context.current if one.id == checklist]
    chosen = next(iter(named or usual), None)
    return page(
        request,
        "measuring/studies.html",
        title=phrase("Do inspectors agree?"),
        context=context,
        chosen=chosen,
        batches=list_batches_to_study(store, chosen) if chosen else [],
        done=context.count_done(),
    )


@router.post("/yard/studies", dependencies=[allow("measure", "study_planned")])
def add_study(
    store: StoreDep, now: NowDep, by: AccountDep, form: Annotated[StudyForm, Form()]
) -> Response:
    study_id = plan_study.plan_study(store, form.plan(), by=by, now=now)
    return RedirectResponse(f"/yard/studies/{study_id}", status_code=303)


@router.get("/yard/studies/{study_id}", dependencies=[allow("measure")])
def show_study(request: Request, study_id: str, store: StoreDep) -> Response:
    context = load_studies(store)
    study = context.get_study(study_id)
    return page(
        request,
        "measuring/study.html",
        title=study.title,
        study=study,
        report=context.build_report(study),
        context=context,
    )


@router.post("/yard/studies/{study_id}/close", dependencies=[allow("measure", "study_closed")])
def close_study(study_id: str, store: StoreDep, now: NowDep, by: AccountDep) -> Response:
    plan_study.close_study(store, study_id, by=by, now=now)
    return RedirectResponse(f"/yard/studies/{study_id}", status_code=303)


@router.get("/yard/studies/{study_id}/sheet/{inspector}", dependencies=[allow("measure")])
def show_sheet(request: Request, study_id: str, inspector: str, store: StoreDep) -> Response:
    return _sheet_page(request, load_study_sheet(store, study_id, inspector), OpenForm(), "")


@router.post(
    "/yard/studies/{study_id}/sheet/{inspector}",
    dependencies=[allow("measure", "study_sheet_entered")],
    form_limits={"max_fields": MAX_SHEET_FIELDS},
)
def add_sheet(
    request: Request,
    study_id: str,
    inspector: str,
    store: StoreDep,
    now: NowDep,
    form: Annotated[OpenForm, Form()],
) -> Response:
    sheet = load_study_sheet(store, study_id, inspector)
    try:
        looks = read_sheet(form.values, sheet.order, sheet.checks)
    except BadInput as error:
        # The page comes back with everything that was typed.
        return _sheet_page(request, sheet, form, str(error))
    plan_study.record_looks(store, sheet, looks, now)
    return RedirectResponse(f"/yard/studies/{study_id}", status_code=303)


def _sheet_page(request: Request, sheet: StudySheet, form: OpenForm, error: str) -> Response:
    answer = page(
        request,
        "measuring/study_sheet.html",
        title=phrase("%(title)s: sheet of %(name)s", title=sheet.study.title, name=sheet.name),
        study=sheet.study,
        inspector=sheet.inspector,
        sheet=build_sheet(sheet.order, sheet.checks, sheet.done, form.values),
        error=error,
    )
    answer.status_code = 400 if error else 200
    return answer
