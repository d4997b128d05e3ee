"""The yard lead's page of accounts: who there is, one-time links, sessions to end."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse

from qcapp.access import invites, sessions
from qcapp.access.sessions import IDLE
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.store.registry.invites import list_invites
from qcapp.store.registry.sessions import list_sessions, revoke_session
from qcapp.store.timestamps import format_timestamp
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.labels import ROLES as NAMES
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=200)]
# Roles a yard lead may give; those of a programme are given at its own terminal.
ROLES = ("trainer", "yard_lead")


@router.get("/yard/accounts", dependencies=[allow("manage_accounts")])
def show_accounts(request: Request, store: StoreDep, now: NowDep):
    return _accounts_page(request, store, now)


@router.post(
    "/yard/accounts",
    dependencies=[allow("manage_accounts", "account_invited")],
)
def add_account(
    request: Request,
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
    code: Text,
    name: Text,
    role: Text,
):
    if role not in ROLES:
        raise BadInput(
            phrase("%(role)s is no role here", role=repr(role)),
            "role",
            phrase("choose %(roles)s", roles=[NAMES[role] for role in ROLES]),
        )
    with store.writing() as connection:
        token = invites.make_link(
            connection, code=code, name=name, role=role, made_by=caller.code, now=now
        )
    request.state.about = {"account": sessions.as_code(code), "role": role}
    return _accounts_page(request, store, now, {"code": sessions.as_code(code), "token": token})


@router.post(
    "/yard/accounts/{code}/link",
    dependencies=[allow("manage_accounts", "password_link_made")],
)
def add_link(request: Request, code: str, store: StoreDep, now: NowDep, caller: CallerDep):
    with store.writing() as connection:
        token = invites.make_new_password_link(connection, code=code, made_by=caller.code, now=now)
    return _accounts_page(request, store, now, {"code": code, "token": token})


@router.post(
    "/yard/accounts/{code}/disable",
    dependencies=[allow("manage_accounts", "account_disabled")],
)
def disable(code: str, store: StoreDep, now: NowDep):
    with store.writing() as connection:
        invites.disable_account(connection, code=code, now=now)
    return RedirectResponse("/yard/accounts", status_code=303)


@router.post("/yard/sessions/{no}/end", dependencies=[allow("manage_accounts", "session_ended")])
def end_session(no: int, store: StoreDep, now: NowDep):
    with store.writing() as connection:
        if not revoke_session(connection, no, format_timestamp(now)):
            raise NotFound(
                phrase("there is no such session, or it has ended"),
                str(no),
                phrase("see the list of accounts"),
            )
    return RedirectResponse("/yard/accounts", status_code=303)


def _accounts_page(request: Request, store: Store, now, fresh: dict | None = None):
    with store.reading() as connection:
        found = accounts.list_accounts(connection)
        open_sessions = list_sessions(
            connection, now=format_timestamp(now), used_after=format_timestamp(now - IDLE)
        )
        links = list_invites(connection, format_timestamp(now))
    if fresh:
        fresh["address"] = f"{request.base_url}welcome/{fresh['token']}"
    values = {
        "accounts": found,
        "sessions": open_sessions,
        "links": links,
        "fresh": fresh,
        "roles": ROLES,
    }
    return page(request, "accounts/accounts.html", title=phrase("Accounts"), **values)
