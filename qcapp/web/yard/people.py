"""The yard lead's page of people: who inspects, who makes; what is kept of a person; erasing a name without touching a count."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, RedirectResponse

from qcapp.i18n.phrase import phrase
from qcapp.scenario.yard_file import YardPerson, read_shape
from qcapp.store.engine import Store
from qcapp.store.queries.personal_record import build_personal_record, erase_name
from qcapp.store.registry import accounts, people
from qcapp.usecases.set_up_yard import load_state, read_state
from qcapp.web.deps import FormDep, StoreDep
from qcapp.web.forms import PageForm, tick
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
WRONG = {
    "code": phrase(
        "This cannot be a code. Use letters, digits and hyphens, such as A01, or leave it empty."
    ),
    "name": phrase("A name is needed. Write 1 to 80 signs."),
    "started_on": phrase("This is no day. Write it like 2026-03-31, or leave it empty."),
}


@router.get("/yard/people", dependencies=[allow("manage_people")])
def show_people(request: Request, store: StoreDep):
    return _people_page(request, store, PageForm())


@router.post("/yard/people", dependencies=[allow("manage_people", "person_added")])
def add_person(request: Request, store: StoreDep, values: FormDep):
    form = PageForm(values)
    with store.writing() as connection:
        state = load_state(connection)
        known = {person["code"]: person["name"] for person in state.people}
        code = form.get("code").upper() or find_free_code(
            known, "I" if form.has("is_inspector") and not form.list_ticked("trade") else "A"
        )
        if code in known:
            text = phrase(
                "%(code)s is %(name)s already. Take another code, or open that line to change it.",
                code=code,
                name=known[code],
            )
            form.refuse("code", text)
        person = read_person(form, code, state.trades)
        if not form.wrong:
            people.save_people(connection, [person])
    if form.wrong:
        return _people_page(request, store, form)
    request.state.about = {"person": code}
    return RedirectResponse("/yard/people#add", status_code=303)


@router.get("/yard/people/{code}.json", dependencies=[allow("manage_people")])
def get_personal_record(code: str, store: StoreDep):
    with store.reading() as connection:
        record = build_personal_record(connection, code)
    return JSONResponse(
        record, headers={"Content-Disposition": 'attachment; filename="person.json"'}
    )


@router.get("/yard/people/{code}", dependencies=[allow("manage_people")])
def show_person(request: Request, code: str, store: StoreDep):
    person = _get_person(store, code)
    ticked = {name: "on" for name in ("is_inspector", "has_left") if person[name]}
    values = {
        "name": person["name"],
        "started_on": person["started_on"] or "",
        **tick("trade", person["trades"]),
        **ticked,
    }
    return _person_page(request, store, code, PageForm(values))


@router.post("/yard/people/{code}", dependencies=[allow("manage_people", "person_changed")])
def change_person(request: Request, code: str, store: StoreDep, values: FormDep):
    form, old = PageForm(values), _get_person(store, code)
    with store.writing() as connection:
        # A trade that no checklist has any more is kept: it cannot be ticked here.
        trades = {**dict.fromkeys(old["trades"], []), **load_state(connection).trades}
        person = read_person(form, code, trades)
        if not form.wrong:
            people.save_people(connection, [person])
    return (
        _person_page(request, store, code, form)
        if form.wrong
        else RedirectResponse("/yard/people", status_code=303)
    )


@router.post("/yard/people/{code}/erase", dependencies=[allow("manage_people", "name_erased")])
def erase(code: str, store: StoreDep):
    with store.writing() as connection:
        erase_name(connection, code)
    return RedirectResponse("/yard/people", status_code=303)


def read_person(form: PageForm, code: str, trades: Mapping[str, list]) -> dict | None:
    """The person that was typed, or None and what is wrong in the form. trades: those there are."""
    chosen = [trade for trade in form.list_ticked("trade") if trade in trades]
    if not chosen and not form.has("is_inspector"):
        form.refuse(
            "trade", phrase("Nothing is ticked. Tick what this person does: inspects, or a trade.")
        )
    person, wrong = read_shape(
        YardPerson,
        WRONG,
        code=code,
        name=form.get("name"),
        trades=tuple(chosen),
        started_on=form.get("started_on") or None,
        is_inspector=form.has("is_inspector"),
        has_left=form.has("has_left"),
    )
    form.refuse_all(wrong)
    return person


def find_free_code(known: Mapping[str, str], letter: str) -> str:
    """A01, A02, ...: the first that nobody has."""
    return next(
        code for number in range(1, len(known) + 2) if (code := f"{letter}{number:02}") not in known
    )


def _get_person(store: Store, code: str) -> dict:
    with store.reading() as connection:
        return people.get_person(connection, code)


def _people_page(request: Request, store: Store, form: PageForm):
    with store.reading() as connection:
        state = load_state(connection)
        holders = accounts.list_accounts(connection)
    known = {person["code"] for person in state.people}
    others = [
        {"code": row.code, "name": row.name, "role": row.role}
        for row in holders
        if row.code not in known
    ]
    return yard_page(
        request,
        store,
        "yard/people.html",
        form,
        title=phrase("People"),
        state=state,
        people=state.people,
        others=others,
        trades=state.trades,
    )


def _person_page(request: Request, store: Store, code: str, form: PageForm):
    state = read_state(store)
    return yard_page(
        request,
        store,
        "yard/person.html",
        form,
        title=phrase("Person %(code)s", code=code),
        state=state,
        code=code,
        trades=state.trades,
    )
