"""Who inspects and who makes: enter and change people, erase a name without touching a count."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pydantic import Field

from qcapp.access.invites import TERMINAL
from qcapp.i18n.phrase import phrase
from qcapp.scenario.yard_file import YardPerson, read_shape
from qcapp.store.engine import Store
from qcapp.store.queries.personal_record import erase_name
from qcapp.store.registry import accounts, people
from qcapp.sync.audit_trail import note
from qcapp.usecases.form import TypedForm
from qcapp.usecases.yard_state import YardState, load_state


class PersonForm(TypedForm):
    code: str = ""
    name: str = ""
    trades: list[str] = Field(default_factory=list)
    started_on: str = ""
    is_inspector: bool = False
    has_left: bool = False


WRONG = {
    "code": phrase(
        "This is not a valid code. Use letters, digits and hyphens, such as A01, or leave it empty."
    ),
    "name": phrase("A name is needed. Write 1 to 80 characters."),
    "started_on": phrase("This is not a day. Write it like 2026-03-31, or leave it empty."),
}


def load_people(store: Store) -> tuple[YardState, list[dict[str, str]]]:
    """(the yard with its people, holders of accounts who are none of them: code, name, role)."""
    with store.reading() as connection:
        state = load_state(connection)
        holders = accounts.list_accounts(connection)
    known = {person["code"] for person in state.people}
    return state, [
        {"code": row.code, "name": row.name, "role": row.role}
        for row in holders
        if row.code not in known
    ]


def get_person(store: Store, code: str) -> people.Person:
    """Raises NotFound."""
    with store.reading() as connection:
        return people.get_person(connection, code)


def add_person(store: Store, form: PersonForm) -> str:
    """The code, given or the next free one; nothing is kept when the form says what is wrong."""
    with store.writing() as connection:
        state = load_state(connection)
        known = {person["code"]: person["name"] for person in state.people}
        code = form.code.upper() or find_free_code(
            known, "I" if form.is_inspector and not form.trades else "A"
        )
        if code in known:
            text = phrase(
                "%(code)s is already %(name)s. Choose another code, or open that line to change "
                "it.",
                code=code,
                name=known[code],
            )
            form.refuse("code", text)
        person = read_person(form, code, state.all_trades)
        if person and not form.wrong:
            people.save_people(connection, [person])
    return code


def change_person(store: Store, code: str, form: PersonForm) -> None:
    """Keeps nothing when the form says what is wrong. Raises NotFound."""
    old = get_person(store, code)
    with store.writing() as connection:
        # A trade that no checklist has any more is kept: it cannot be ticked here.
        trades = {**dict.fromkeys(old["trades"], ()), **load_state(connection).all_trades}
        person = read_person(form, code, trades)
        if person and not form.wrong:
            people.save_people(connection, [person])


def erase_person(store: Store, code: str) -> None:
    with store.writing() as connection:
        erase_name(connection, code)


def erase_person_from_terminal(store: Store, code: str, now: datetime) -> None:
    """With a line in the trail, which a page's request leaves by itself."""
    with store.writing() as connection:
        erase_name(connection, code)
        note(
            connection,
            action="name_erased",
            by=TERMINAL,
            about={"code": code},
            now=now,
        )


def read_person(form: PersonForm, code: str, trades: Mapping[str, Any]) -> dict[str, Any] | None:
    """The person that was typed, or None and what is wrong in the form. trades: those there are."""
    chosen = [trade for trade in form.trades if trade in trades]
    if not chosen and not form.is_inspector:
        form.refuse(
            "trades", phrase("Nothing is ticked. Tick what this person does: inspects, or a trade.")
        )
    person, wrong = read_shape(
        YardPerson,
        WRONG,
        code=code,
        name=form.name,
        trades=tuple(chosen),
        started_on=form.started_on or None,
        is_inspector=form.is_inspector,
        has_left=form.has_left,
    )
    form.refuse_all(wrong)
    return person


def find_free_code(known: Mapping[str, str], letter: str) -> str:
    """A01, A02, ...: the first that nobody has."""
    return next(
        code for number in range(1, len(known) + 2) if (code := f"{letter}{number:02}") not in known
    )
