"""The guided start of a yard: its list of steps, and the steps that have no page of their own elsewhere."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse

from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.scenario.yard_file import list_crew_faults
from qcapp.store.engine import Store
from qcapp.store.registry.yard_facts import save_yard_facts
from qcapp.usecases.set_up_yard import load_guide, read_state
from qcapp.web.deps import FormDep, SettingsDep, StoreDep
from qcapp.web.forms import PageForm, tick
from qcapp.web.layout.labels import name as name_code
from qcapp.web.layout.page import page
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
MAX_NAME = 80


@router.get("/yard/start", dependencies=[allow("set_up")])
def show_guide(request: Request, store: StoreDep):
    return page(
        request, "yard/setup.html", title=phrase("Set up the yard"), guide=load_guide(store)
    )


@router.post("/yard/start/end", dependencies=[allow("set_up", "guided_start_ended")])
def end_guide(store: StoreDep):
    with store.writing() as connection:
        save_yard_facts(connection, is_ended=True)
    return RedirectResponse("/", status_code=303)


@router.get("/yard/name", dependencies=[allow("set_up")])
def show_name(request: Request, store: StoreDep):
    return yard_page(
        request,
        store,
        "yard/name.html",
        PageForm({"name": read_state(store).facts.name}),
        title=phrase("Name the yard"),
    )


@router.post("/yard/name", dependencies=[allow("set_up", "yard_named")])
def set_name(request: Request, store: StoreDep, settings: SettingsDep, values: FormDep):
    form = PageForm(values)
    name = form.get("name")
    if not name or len(name) > MAX_NAME or not name.isprintable():
        form.refuse(
            "name",
            phrase("The name is empty or too long. Write 1 to %(most)s signs.", most=MAX_NAME),
        )
        return yard_page(request, store, "yard/name.html", form, title=phrase("Name the yard"))
    return _keep(store, "/yard/name", name=name)


@router.get("/yard/work", dependencies=[allow("set_up")])
def show_work(request: Request, store: StoreDep):
    facts = read_state(store).facts
    return _work_page(
        request,
        store,
        PageForm({**tick("size", facts.sizes), **tick("checklist", facts.checklist_ids)}),
    )


@router.post("/yard/work", dependencies=[allow("set_up", "work_chosen")])
def set_work(request: Request, store: StoreDep, values: FormDep):
    form, state = PageForm(values), read_state(store)
    known = {one["id"]: one["sizes"] for one in state.current}
    sizes, chosen = form.list_ticked("size"), form.list_ticked("checklist")
    if not sizes:
        form.refuse("size", phrase("No size is ticked. Tick each size that the yard makes."))
    if not chosen or not set(chosen) <= set(known):
        form.refuse(
            "checklist",
            phrase(
                "No checklist is ticked. Tick at least one; the finished stove is a good beginning."
            ),
        )
    for checklist_id in chosen:
        lacking = [size for size in sizes if size not in known.get(checklist_id, sizes)]
        if lacking:
            form.refuse(
                "checklist",
                phrase(
                    "%(checklist)s has no limits for: %(sizes)s. Untick it, or add the size on the page Checklists.",
                    checklist=checklist_id,
                    sizes=[name_size(size) for size in lacking],
                ),
            )
    if form.wrong:
        return _work_page(request, store, form)
    return _keep(store, "/yard/work", sizes=sizes, checklist_ids=chosen)


def _work_page(request: Request, store: Store, form: PageForm):
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
def show_crew(request: Request, store: StoreDep):
    crew = read_state(store).crew
    return _crew_page(
        request, store, PageForm({f"crew.{trade}": code or "-" for trade, code in crew.items()})
    )


@router.post("/yard/crew", dependencies=[allow("set_up", "crew_named")])
def set_crew(request: Request, store: StoreDep, values: FormDep):
    form, state = PageForm(values), read_state(store)
    crew = {trade: form.get(f"crew.{trade}") for trade in state.trades}
    for trade, code in crew.items():
        if not code:
            form.refuse(
                f"crew.{trade}",
                phrase(
                    "Nothing is chosen for %(trade)s. Choose a person, or that it differs.",
                    trade=name_code(trade),
                ),
            )
    named = {trade: code for trade, code in crew.items() if code not in ("", "-")}
    for trade in list_crew_faults(
        named, {person["code"]: person["trades"] for person in state.present}
    ):
        text = phrase(
            "%(code)s is no one with the trade %(trade)s. Choose another, or give %(code)s that trade on the page People.",
            code=named[trade],
            trade=name_code(trade),
        )
        form.refuse(f"crew.{trade}", text)
    if form.wrong:
        return _crew_page(request, store, form)
    return _keep(store, "/yard/crew", crew={trade: named.get(trade, "") for trade in crew})


def _crew_page(request: Request, store: Store, form: PageForm):
    return yard_page(
        request, store, "yard/crew.html", form, title=phrase("Crew"), state=read_state(store)
    )


@router.get("/yard/practice", dependencies=[allow("set_up")])
def show_practice(request: Request, store: StoreDep):
    return yard_page(
        request,
        store,
        "yard/practice.html",
        title=phrase("Practise"),
        is_practised=read_state(store).facts.is_practised,
        address=f"{request.base_url}phone/#/practice",
    )


@router.post(
    "/yard/practice",
    dependencies=[allow("set_up", "practice_noted")],
)
def note_practice(store: StoreDep):
    return _keep(store, "/yard/practice", is_practised=True)


def _keep(store: Store, path: str, **facts) -> RedirectResponse:
    """Saves, then leads on: to the next step while the guide is shown, else back to the same page."""
    with store.writing() as connection:
        save_yard_facts(connection, **facts)
    return lead_on(store, path)


def lead_on(store: Store, path: str) -> RedirectResponse:
    """To the next step that misses something; to the list when none does; back to the page once the guide was put away."""
    guide = load_guide(store)
    if guide.is_ended:
        return RedirectResponse(path, status_code=303)
    following = guide.find_next(path)
    return RedirectResponse(following.href if following else "/yard/start", status_code=303)
