"""The yard lead's page of accounts: who there is, one-time links, sessions to end."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.access.sessions import as_code
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.usecases import manage_accounts
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.labels import ROLES as NAMES
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
Text = Annotated[str, StringConstraints(max_length=200)]
# Roles a yard lead may give; those of a programme are given at its own terminal.
ROLES = ("trainer", "yard_lead")


class AccountForm(BaseModel):
    code: Text
    name: Text
    role: Text


@router.get("/yard/accounts", dependencies=[allow("manage_accounts")])
def show_accounts(request: Request, store: StoreDep, now: NowDep) -> Response:
    return _accounts_page(request, store, now)


@router.post(
    "/yard/accounts",
    dependencies=[allow("manage_accounts", "account_invited")],
)
def add_account(
    request: Request,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[AccountForm, Form()],
) -> Response:
    if form.role not in ROLES:
        raise BadInput(
            phrase("%(role)s is not a role here", role=repr(form.role)),
            "role",
            phrase("choose %(roles)s", roles=[NAMES[role] for role in ROLES]),
        )
    token = manage_accounts.invite(store, **form.model_dump(), made_by=by, now=now)
    request.state.about = {"account": as_code(form.code), "role": form.role}
    return _accounts_page(request, store, now, {"code": as_code(form.code), "token": token})


@router.post(
    "/yard/accounts/{code}/link",
    dependencies=[allow("manage_accounts", "password_link_made")],
)
def add_link(request: Request, code: str, store: StoreDep, now: NowDep, by: AccountDep) -> Response:
    token = manage_accounts.invite_again(store, code=code, made_by=by, now=now)
    return _accounts_page(request, store, now, {"code": code, "token": token})


@router.post(
    "/yard/accounts/{code}/disable",
    dependencies=[allow("manage_accounts", "account_disabled")],
)
def disable(code: str, store: StoreDep, now: NowDep) -> Response:
    manage_accounts.disable_account(store, code, now)
    return RedirectResponse("/yard/accounts", status_code=303)


@router.post("/yard/sessions/{no}/end", dependencies=[allow("manage_accounts", "session_ended")])
def end_session(no: int, store: StoreDep, now: NowDep) -> Response:
    manage_accounts.end_session(store, no, now)
    return RedirectResponse("/yard/accounts", status_code=303)


def _accounts_page(
    request: Request, store: Store, now: datetime, fresh: dict[str, Any] | None = None
) -> Response:
    """fresh: code and token of the link just made, shown once."""
    reach = find_reach(request)
    if fresh:
        # For whoever comes to this machine it is right even where no other reaches it.
        fresh = {**fresh, "address": f"{reach.address}welcome/{fresh['token']}"}
    found = manage_accounts.load_accounts(store, now)
    return page(
        request,
        "accounts/accounts.html",
        title=phrase("Accounts"),
        accounts=found.accounts,
        sessions=found.sessions,
        links=found.links,
        fresh=fresh,
        reach=reach,
        roles=ROLES,
    )
