"""The steps of the guided start that are the yard's own facts: name, sizes, crew, practice.

Each takes what was typed, says in the form what is wrong with it, and saves when nothing is.
"""

from typing import Any

from pydantic import Field

from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.terms import TRADES
from qcapp.scenario.yard_file import list_crew_faults
from qcapp.store.engine import Store
from qcapp.store.registry.yard_facts import save_yard_facts
from qcapp.usecases.form import OpenForm, TypedForm
from qcapp.usecases.yard_state import YardState, read_state

MAX_NAME = 80


class NameForm(TypedForm):
    name: str = ""


class WorkForm(TypedForm):
    sizes: list[str] = Field(default_factory=list)
    checklist_ids: list[str] = Field(default_factory=list)


class CrewForm(OpenForm):
    """Further fields: crew.TRADE, the code of who usually does it; "-" says that it differs."""


def name_yard(store: Store, form: NameForm) -> None:
    name = form.name
    if not name or len(name) > MAX_NAME or not name.isprintable():
        form.refuse(
            "name",
            phrase("The name is empty or too long. Write 1 to %(most)s characters.", most=MAX_NAME),
        )
    _save(store, form, name=name)


def choose_work(store: Store, form: WorkForm) -> None:
    """The sizes the yard makes and the checklists it works with."""
    state = read_state(store)
    _check_work(form, state)
    _save(store, form, sizes=form.sizes, checklist_ids=form.checklist_ids)


def _check_work(form: WorkForm, state: YardState) -> None:
    sizes, chosen = form.sizes, form.checklist_ids
    known = {one["id"]: one["sizes"] for one in state.current}
    if not sizes:
        form.refuse("sizes", phrase("No size is ticked. Tick each size that the yard makes."))
    if not chosen or not set(chosen) <= set(known):
        form.refuse(
            "checklist_ids",
            phrase(
                "No checklist is ticked. Tick at least one; the finished stove is a good one to "
                "start with."
            ),
        )
    for checklist_id in chosen:
        lacking = [size for size in sizes if size not in known.get(checklist_id, sizes)]
        if lacking:
            form.refuse(
                "checklist_ids",
                phrase(
                    "%(checklist)s has no limits for: %(sizes)s. "
                    "Untick it, or add the size on the page Checklists.",
                    checklist=checklist_id,
                    sizes=[name_size(size) for size in lacking],
                ),
            )


def choose_crew(store: Store, form: CrewForm) -> None:
    """Who usually does which trade."""
    state, typed = read_state(store), form.list_group("crew")
    crew = {trade: typed.get(trade, "") for trade in state.trades}
    named = {trade: code for trade, code in crew.items() if code not in ("", "-")}
    _check_crew(form, state, crew, named)
    _save(store, form, crew={trade: named.get(trade, "") for trade in crew})


def _check_crew(
    form: CrewForm, state: YardState, crew: dict[str, str], named: dict[str, str]
) -> None:
    for trade, code in crew.items():
        if not code:
            form.refuse(
                f"crew.{trade}",
                phrase(
                    "Nobody is chosen for %(trade)s. Choose a person, or say that it differs.",
                    trade=name_trade(trade),
                ),
            )
    trades = {person["code"]: person["trades"] for person in state.present}
    for trade in list_crew_faults(named, trades):
        text = phrase(
            "%(code)s does not have the trade %(trade)s. Choose somebody else, or give %(code)s "
            "that trade on the page People.",
            code=named[trade],
            trade=name_trade(trade),
        )
        form.refuse(f"crew.{trade}", text)


def name_trade(trade: str) -> str:
    """The trade in words; one that only a yard's own checklist has as it is written there."""
    return TRADES.get(trade) or trade.replace("_", " ").replace("-", " ")


def note_practice(store: Store) -> None:
    _save(store, None, is_practised=True)


def end_guide(store: Store) -> None:
    """Puts the guided start away."""
    _save(store, None, is_ended=True)


def _save(store: Store, form: TypedForm | None, **facts: Any) -> None:
    if form is None or not form.wrong:
        with store.writing() as connection:
            save_yard_facts(connection, **facts)
