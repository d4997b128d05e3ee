"""The guided start of a yard: its list of steps, and those that have no page elsewhere."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.usecases import set_up_yard
from qcapp.usecases.set_up_yard import CrewForm, NameForm, WorkForm
from qcapp.usecases.setup_guide import load_guide
from qcapp.usecases.yard_state import read_state
from qcapp.web.deps import StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


@router.get("/yard/start", dependencies=[allow("set_up")])
def show_guide(request: Request, store: StoreDep) -> Response:
    return page(
        request, "yard/setup.html", title=phrase("Set up the yard"), guide=load_guide(store)
    )


@router.post("/yard/start/end", dependencies=[allow("set_up", "guided_start_ended")])
def end_guide(store: StoreDep) -> Response:
    set_up_yard.end_guide(store)
    return RedirectResponse("/", status_code=303)


@router.get("/yard/name", dependencies=[allow("set_up")])
def show_name(request: Request, store: StoreDep) -> Response:
    return _name_page(request, store, NameForm(name=read_state(store).facts.name))


@router.post("/yard/name", dependencies=[allow("set_up", "yard_named")])
def set_name(request: Request, store: StoreDep, form: Annotated[NameForm, Form()]) -> Response:
    set_up_yard.name_yard(store, form)
    return _name_page(request, store, form) if form.wrong else lead_on(store, "/yard/name")


def _name_page(request: Request, store: Store, form: NameForm) -> Response:
    return yard_page(request, store, "yard/name.html", form, title=phrase("Name the yard"))


@router.get("/yard/work", dependencies=[allow("set_up")])
def show_work(request: Request, store: StoreDep) -> Response:
    facts = read_state(store).facts
    form = WorkForm(sizes=list(facts.sizes), checklist_ids=list(facts.checklist_ids))
    return _work_page(request, store, form)


@router.post("/yard/work", dependencies=[allow("set_up", "work_chosen")])
def set_work(request: Request, store: StoreDep, form: Annotated[WorkForm, Form()]) -> Response:
    set_up_yard.choose_work(store, form)
    return _work_page(request, store, form) if form.wrong else lead_on(store, "/yard/work")


def _work_page(request: Request, store: Store, form: WorkForm) -> Response:
    state = read_state(store)
    sizes = list(dict.fromkeys(size for one in state.current for size in one["sizes"]))
    return yard_page(
        request,
        store,
        "yard/work.html",
        form,
        title=phrase("Sizes and checklists"),
        state=state,
        current=state.current,
        sizes=sizes,
    )


@router.get("/yard/crew", dependencies=[allow("set_up")])
def show_crew(request: Request, store: StoreDep) -> Response:
    crew = read_state(store).crew
    chosen = {f"crew.{trade}": code or "-" for trade, code in crew.items()}
    return _crew_page(request, store, CrewForm.model_validate(chosen))


@router.post("/yard/crew", dependencies=[allow("set_up", "crew_named")])
def set_crew(request: Request, store: StoreDep, form: Annotated[CrewForm, Form()]) -> Response:
    set_up_yard.choose_crew(store, form)
    return _crew_page(request, store, form) if form.wrong else lead_on(store, "/yard/crew")


def _crew_page(request: Request, store: Store, form: CrewForm) -> Response:
    return yard_page(
        request, store, "yard/crew.html", form, title=phrase("Crew"), state=read_state(store)
    )


@router.get("/yard/practice", dependencies=[allow("set_up")])
def show_practice(request: Request, store: StoreDep) -> Response:
    return yard_page(
        request,
        store,
        "yard/practice.html",
        title=phrase("Practise"),
        is_practised=read_state(store).facts.is_practised,
        address=find_reach(request).link("phone/#/practice"),
        reach=find_reach(request),
    )


@router.post(
    "/yard/practice",
    dependencies=[allow("set_up", "practice_noted")],
)
def note_practice(store: StoreDep) -> Response:
    set_up_yard.note_practice(store)
    return lead_on(store, "/yard/practice")


def lead_on(store: Store, path: str) -> RedirectResponse:
    """To the next step that misses something; to the list when none does; back to the page once
    the guide was put away.
    """
    guide = load_guide(store)
    if guide.is_ended:
        return RedirectResponse(path, status_code=303)
    following = guide.find_next(path)
    return RedirectResponse(following.href if following else "/yard/start", status_code=303)
