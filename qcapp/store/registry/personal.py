"""What is kept of a person. Names stand in two tables only; the log knows people by code."""

from collections.abc import Mapping

from sqlalchemy import Connection, func, select, update

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.registry.accounts import ACCOUNT, erase_account_name
from qcapp.store.registry.people import PERSON
from qcapp.store.tables import Inspection, Log, Result

INSPECTION, LOG, RESULT = (table.__table__ for table in (Inspection, Log, Result))


def build_personal_record(connection: Connection, code: str) -> dict:
    """Everything kept under a person's code, ready to hand over. Raises NotFound.

    Gives the entry in the list of people, the account, and how often the code stands in records, with
    the records' ids, so that each can be found in the exported log.
    """
    person, account = _find(connection, code)
    made = connection.execute(select(func.count()).where(RESULT.c.artisan == code)).scalar_one()
    seen = connection.execute(
        select(func.count()).where(INSPECTION.c.inspector == code)
    ).scalar_one()
    # Codes stand in the records as JSON text; a quoted search finds each of them.
    query = (
        select(LOG.c.id).where(LOG.c.raw.contains(f'"{code}"', autoescape=True)).order_by(LOG.c.seq)
    )
    return {
        "code": code,
        "person": dict(person) if person else None,
        "account": dict(account) if account else None,
        "checks_judged_of_own_work": made,
        "inspections_made": seen,
        "records_with_this_code": list(connection.execute(query).scalars()),
    }


def erase_name(connection: Connection, code: str) -> None:
    """The code stands where the name stood; every count stays. Raises NotFound."""
    _find(connection, code)
    connection.execute(update(PERSON).where(PERSON.c.code == code).values(name=code))
    erase_account_name(connection, code)


def _find(connection: Connection, code: str) -> tuple[Mapping | None, Mapping | None]:
    person = connection.execute(select(PERSON).where(PERSON.c.code == code)).mappings().first()
    columns = (
        ACCOUNT.c.code,
        ACCOUNT.c.name,
        ACCOUNT.c.role,
        ACCOUNT.c.made_at,
        ACCOUNT.c.disabled_at,
    )
    account = connection.execute(select(*columns).where(ACCOUNT.c.code == code)).mappings().first()
    if person is None and account is None:
        raise NotFound(phrase("nobody has this code"), code, phrase("see the list of names"))
    return person, account
