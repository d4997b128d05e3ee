"""Signing in and out, using a one-time link, the own password."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from qcapp.access import invites, sessions
from qcapp.access.roles import may
from qcapp.access.sessions import SignedIn
from qcapp.errors import BadInput, NotAllowed, TooMany
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.sync.audit_trail import note
from qcapp.usecases.set_up_yard import load_guide
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page, render_page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.session_cookie import drop_cookie, read_cookie, set_cookie

router = APIRouter(include_in_schema=False)
Text = Annotated[str, Form(max_length=200)]


def get_address(request: Request) -> str:
    return request.client.host if request.client else ""


@router.get("/sign-in", dependencies=[allow("sign_in")])
def show_sign_in(request: Request):
    return page(request, "accounts/sign_in.html", title=phrase("Sign in"), wanted="/", what=None)


@router.post("/sign-in", dependencies=[allow("sign_in")])
def sign_in(
    request: Request, store: StoreDep, now: NowDep, code: Text, password: Text, wanted: Text = "/"
):
    try:
        done = sessions.sign_in(
            store,
            code=code,
            password=password,
            address=get_address(request),
            old_token=read_cookie(request),
            now=now,
        )
    except TooMany as error:
        _note_blocked(store, error, sessions.as_code(code), now)
        raise
    if done is None:
        what = phrase("Code or password is not right.")
        return HTMLResponse(
            render_page(
                request, "accounts/sign_in.html", title=phrase("Sign in"), wanted=wanted, what=what
            ),
            status_code=403,
        )
    with store.writing() as connection:
        note(
            connection,
            action="signed_in",
            by=done.code,
            about={"failed_before": str(done.failed_before)},
            now=now,
        )
    return _enter(request, done, as_local(wanted))


def _note_blocked(store: Store, error: TooMany, code: str, now) -> None:
    """Once a stretch, and only for a code that is an account's: what strangers type is not kept."""
    with store.writing() as connection:
        if error.is_first and accounts.find_account(connection, code):
            note(
                connection,
                action="sign_in_blocked",
                by="nobody",
                about={"account": code},
                now=now,
            )


def as_local(address: str) -> str:
    """The address if it is one of this server, else the start page: no sign-in leads elsewhere."""
    is_local = (
        address.startswith("/")
        and not address.startswith(("//", "/\\"))
        and address.isprintable()
        and "\\" not in address
    )
    return address if is_local else "/"


def _enter(request: Request, done: SignedIn, address: str) -> Response:
    response = RedirectResponse(address, status_code=303)
    set_cookie(request, response, done.token)
    return response


@router.post("/sign-out", dependencies=[allow("own_account", "signed_out")])
def sign_out(request: Request, store: StoreDep, now: NowDep):
    with store.writing() as connection:
        sessions.end_session(connection, read_cookie(request), now)
    response = RedirectResponse("/", status_code=303)
    drop_cookie(request, response)
    return response


@router.get("/welcome/{token}", dependencies=[allow("sign_in")])
def show_welcome(request: Request, token: str, store: StoreDep, now: NowDep):
    return page(
        request,
        "accounts/welcome.html",
        title=phrase("Your account"),
        invite=invites.get_invite(store, token, now),
        what=None,
    )


@router.post("/welcome/{token}", dependencies=[allow("sign_in")])
def accept(
    request: Request,
    token: str,
    store: StoreDep,
    now: NowDep,
    password: Text,
    again: Text,
    code: Text = "",
    name: Text = "",
):
    try:
        done = invites.accept_invite(
            store, token, code=code, name=name, password=password, again=again, now=now
        )
    except BadInput as error:
        invite = invites.get_invite(store, token, now)
        return HTMLResponse(
            render_page(
                request,
                "accounts/welcome.html",
                title=phrase("Your account"),
                invite=invite,
                what=str(error),
            ),
            status_code=400,
        )
    with store.writing() as connection:
        note(connection, action="link_used", by=done.code, now=now)
        role = accounts.find_account(connection, done.code).role
    return _enter(
        request, done, "/yard/start" if may(role, "set_up") and load_guide(store).is_shown else "/"
    )


@router.get("/account", dependencies=[allow("own_account")])
def show_account(request: Request, caller: CallerDep):
    _refuse_demo(caller)
    return page(request, "accounts/account.html", title=phrase("Your account"), what=None)


@router.post("/account/password", dependencies=[allow("own_account", "own_password_changed")])
def change_password(
    request: Request,
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
    old: Text,
    new: Text,
    again: Text,
):
    _refuse_demo(caller)
    token = sessions.change_password(
        store, caller, old=old, new=new, again=again, address=get_address(request), now=now
    )
    return _enter(request, SignedIn(token, caller.code), "/")


def _refuse_demo(caller) -> None:
    if caller.session_no is None:
        raise NotAllowed(
            phrase("the demo has no accounts"),
            "",
            phrase("start qcapp serve over a database of your own"),
        )
