"""What is kept of a person. Names stand in two tables only; the log knows people by code."""

from typing import Any

from sqlalchemy import Connection, func, select

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.registry.accounts import AccountEntry, erase_account_name, find_account
from qcapp.store.registry.card_links import delete_card_links, list_card_links
from qcapp.store.registry.people import Person, erase_person_name, find_person
from qcapp.store.tables import INSPECTION, LOG, RESULT


def build_personal_record(connection: Connection, code: str) -> dict[str, Any]:
    """Everything kept under a person's code, ready to hand over. Raises NotFound.

    Gives the entry in the list of people, the account, and how often the code stands in records,
    with the records' ids, so that each can be found in the exported log.
    """
    person, account = _get_person_or_account(connection, code)
    judged = select(func.count()).where(RESULT.c.artisan == code)
    inspected = select(func.count()).where(INSPECTION.c.inspector == code)
    # Codes stand in the records as JSON text; a quoted search finds each of them.
    named = (
        select(LOG.c.id).where(LOG.c.raw.contains(f'"{code}"', autoescape=True)).order_by(LOG.c.seq)
    )
    return {
        "code": code,
        "person": person,
        "account": account._asdict() if account else None,
        "checks_judged_of_own_work": connection.execute(judged).scalar_one(),
        "inspections_made": connection.execute(inspected).scalar_one(),
        "links_to_the_card": [link._asdict() for link in list_card_links(connection, code)],
        "records_with_this_code": list(connection.execute(named).scalars()),
    }


def erase_name(connection: Connection, code: str) -> None:
    """The code stands where the name stood; every count stays, no link leads to the card. Raises
    NotFound.
    """
    _get_person_or_account(connection, code)
    erase_person_name(connection, code)
    erase_account_name(connection, code)
    delete_card_links(connection, code)


def _get_person_or_account(
    connection: Connection, code: str
) -> tuple[Person | None, AccountEntry | None]:
    person, found = find_person(connection, code), find_account(connection, code)
    if person is None and found is None:
        raise NotFound(phrase("nobody has this code"), code, phrase("see the list of names"))
    account = (
        AccountEntry(found.code, found.name, found.role, found.made_at, found.disabled_at)
        if found
        else None
    )
    return person, account
