"""The yard lead's page of people: who inspects, who makes, what is kept of a person."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.queries.personal_record import build_personal_record
from qcapp.usecases import enter_people
from qcapp.usecases.enter_people import PersonForm
from qcapp.usecases.yard_state import read_state
from qcapp.web.deps import StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


@router.get("/yard/people", dependencies=[allow("manage_people")])
def show_people(request: Request, store: StoreDep) -> Response:
    return _people_page(request, store, PersonForm())


@router.post("/yard/people", dependencies=[allow("manage_people", "person_added")])
def add_person(request: Request, store: StoreDep, form: Annotated[PersonForm, Form()]) -> Response:
    code = enter_people.add_person(store, form)
    if form.wrong:
        return _people_page(request, store, form)
    request.state.about = {"person": code}
    return RedirectResponse("/yard/people#add", status_code=303)


@router.get("/yard/people/{code}.json", dependencies=[allow("manage_people")])
def get_personal_record(code: str, store: StoreDep) -> Response:
    with store.reading() as connection:
        record = build_personal_record(connection, code)
    return JSONResponse(
        record, headers={"Content-Disposition": 'attachment; filename="person.json"'}
    )


@router.get("/yard/people/{code}", dependencies=[allow("manage_people")])
def show_person(request: Request, code: str, store: StoreDep) -> Response:
    person = enter_people.get_person(store, code)
    form = PersonForm(
        name=person["name"],
        started_on=person["started_on"] or "",
        trades=person["trades"],
        is_inspector=person["is_inspector"],
        has_left=person["has_left"],
    )
    return _person_page(request, store, code, form)


@router.post("/yard/people/{code}", dependencies=[allow("manage_people", "person_changed")])
def change_person(
    request: Request, code: str, store: StoreDep, form: Annotated[PersonForm, Form()]
) -> Response:
    enter_people.change_person(store, code, form)
    if form.wrong:
        return _person_page(request, store, code, form)
    return RedirectResponse("/yard/people", status_code=303)


@router.post("/yard/people/{code}/erase", dependencies=[allow("manage_people", "name_erased")])
def erase(code: str, store: StoreDep) -> Response:
    enter_people.erase_person(store, code)
    return RedirectResponse("/yard/people", status_code=303)


def _people_page(request: Request, store: Store, form: PersonForm) -> Response:
    state, others = enter_people.load_people(store)
    return yard_page(
        request,
        store,
        "yard/people.html",
        form,
        title=phrase("People"),
        state=state,
        people=state.people,
        others=others,
        trades=state.all_trades,
    )


def _person_page(request: Request, store: Store, code: str, form: PersonForm) -> Response:
    state = read_state(store)
    return yard_page(
        request,
        store,
        "yard/person.html",
        form,
        title=phrase("Person %(code)s", code=code),
        state=state,
        code=code,
        trades=state.all_trades,
    )
