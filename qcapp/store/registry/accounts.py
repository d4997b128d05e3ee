"""Accounts of those who sign in with a password."""

from typing import NamedTuple

from sqlalchemy import Connection, func, insert, select, update

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import ACCOUNT


class Account(NamedTuple):
    code: str
    name: str
    role: str
    password_hash: str
    made_at: str
    disabled_at: str | None


class AccountEntry(NamedTuple):
    """What pages may show of an account."""

    code: str
    name: str
    role: str
    made_at: str
    disabled_at: str | None


ENTRY_COLUMNS = [ACCOUNT.c[name] for name in AccountEntry._fields]


def save_account(
    connection: Connection, *, code: str, name: str, role: str, password_hash: str, now: str
) -> None:
    """A new account, or a new password for a known one.

    A known one keeps its role and name, and is enabled again.
    """
    if find_account(connection, code):
        values = {"password_hash": password_hash, "disabled_at": None}
        connection.execute(update(ACCOUNT).where(ACCOUNT.c.code == code).values(**values))
        return
    row = {"code": code, "name": name, "role": role, "password_hash": password_hash, "made_at": now}
    connection.execute(insert(ACCOUNT), [row])


def find_account(connection: Connection, code: str) -> Account | None:
    row = connection.execute(select(ACCOUNT).where(ACCOUNT.c.code == code)).first()
    return Account(*row) if row else None


def get_account(connection: Connection, code: str) -> Account:
    """Raises NotFound."""
    account = find_account(connection, code)
    if account is None:
        raise NotFound(phrase("there is no such account"), code, phrase("see the list of accounts"))
    return account


def list_accounts(connection: Connection) -> list[AccountEntry]:
    """The enabled ones first."""
    query = select(*ENTRY_COLUMNS).order_by(ACCOUNT.c.disabled_at.is_not(None), ACCOUNT.c.code)
    return [AccountEntry(*row) for row in connection.execute(query)]


def count_enabled(connection: Connection, role: str) -> int:
    query = select(func.count()).where(ACCOUNT.c.role == role, ACCOUNT.c.disabled_at.is_(None))
    return connection.execute(query).scalar_one()


def disable_account(connection: Connection, code: str, now: str) -> None:
    connection.execute(update(ACCOUNT).where(ACCOUNT.c.code == code).values(disabled_at=now))


def set_password(connection: Connection, code: str, password_hash: str) -> None:
    connection.execute(
        update(ACCOUNT).where(ACCOUNT.c.code == code).values(password_hash=password_hash)
    )


def erase_account_name(connection: Connection, code: str) -> None:
    """The name becomes the code."""
    connection.execute(update(ACCOUNT).where(ACCOUNT.c.code == code).values(name=code))
