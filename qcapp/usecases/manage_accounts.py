"""Who may sign in: accounts, their one-time links, the sessions that are open."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.access import invites
from qcapp.access.sessions import IDLE
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import accounts, sessions
from qcapp.store.registry.invites import list_invites
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.audit_trail import note


@dataclass(frozen=True)
class AccountsView:
    """Rows as the registry gives them."""

    accounts: Sequence[Any]
    sessions: Sequence[Any]
    links: Sequence[Any]


def load_accounts(store: Store, now: datetime) -> AccountsView:
    with store.reading() as connection:
        return AccountsView(
            accounts.list_accounts(connection),
            sessions.list_sessions(
                connection, now=format_timestamp(now), used_after=format_timestamp(now - IDLE)
            ),
            list_invites(connection, format_timestamp(now)),
        )


def invite(store: Store, *, code: str, name: str, role: str, made_by: str, now: datetime) -> str:
    """The token of a link for a new account. Raises BadInput, Clash."""
    with store.writing() as connection:
        return invites.make_link(
            connection, code=code, name=name, role=role, made_by=made_by, now=now
        )


def invite_again(store: Store, *, code: str, made_by: str, now: datetime) -> str:
    """The token of a link for a new password. Raises NotFound."""
    with store.writing() as connection:
        return invites.make_new_password_link(connection, code=code, made_by=made_by, now=now)


def invite_from_terminal(store: Store, *, code: str | None, role: str, now: datetime) -> str:
    """The token of a link for whoever holds this machine. code: of an account that gets a new
    password, None for a new account of the role. Raises BadInput, NotFound.
    """
    with store.writing() as connection:
        if code is not None:
            code = invites.check_code(code)
            role = accounts.get_account(connection, code).role
        token = invites.make_terminal_link(connection, code=code, role=role, now=now)
        note(
            connection,
            action="link_made",
            by=invites.TERMINAL,
            about={"account": code or "", "role": role},
            now=now,
        )
    return token


def disable_account(store: Store, code: str, now: datetime) -> None:
    """Raises NotFound, and Clash for the last lead."""
    with store.writing() as connection:
        invites.disable_account(connection, code=code, now=now)


def end_session(store: Store, no: int, now: datetime) -> None:
    """Raises NotFound."""
    with store.writing() as connection:
        if not sessions.revoke_session(connection, no, format_timestamp(now)):
            raise NotFound(
                phrase("there is no such session, or it has ended"),
                str(no),
                phrase("see the list of accounts"),
            )
