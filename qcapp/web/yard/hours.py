"""The yard lead's page of hours: note them by step and crew, void a note."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.usecases.note_hours import HoursForm, load_hours, note_hours, withdraw_hours
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/hours", include_in_schema=False)


@router.get("", dependencies=[allow("note_hours")])
def show_hours(request: Request, store: StoreDep, now: NowDep) -> Response:
    return _hours_page(request, store, HoursForm(until=now.date().isoformat()))


@router.post("", dependencies=[allow("note_hours", "hours_noted")])
def add_hours(
    request: Request,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[HoursForm, Form()],
) -> Response:
    note_hours(store, form, by=by, now=now)
    if form.wrong:
        return _hours_page(request, store, form)
    return RedirectResponse("/yard/hours", status_code=303)


@router.post("/{note_id}/void", dependencies=[allow("note_hours", "hours_withdrawn")])
def void_hours(note_id: str, store: StoreDep, now: NowDep, by: AccountDep) -> Response:
    withdraw_hours(store, note_id, by=by, now=now)
    return RedirectResponse("/yard/hours", status_code=303)


def _hours_page(request: Request, store: Store, form: HoursForm) -> Response:
    view = load_hours(store)
    makers = [one for one in view.people.values() if one["trades"] and not one["has_left"]]
    return yard_page(
        request,
        store,
        "yard/hours.html",
        form,
        title=phrase("Hours of work"),
        view=view,
        makers=makers,
    )
