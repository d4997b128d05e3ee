"""Signing in and out, using a one-time link, the own password."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, StringConstraints

from qcapp.access import invites, sessions
from qcapp.access.roles import may
from qcapp.access.sessions import Caller, SignedIn
from qcapp.errors import BadInput, NotAllowed
from qcapp.i18n.phrase import phrase
from qcapp.usecases.setup_guide import load_guide
from qcapp.usecases.sign_in import sign_in, sign_out, use_invite
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page, render_page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.session_cookie import (
    drop_cookie,
    read_browser,
    read_cookie,
    set_browser,
    set_cookie,
)

router = APIRouter(include_in_schema=False)
Text = Annotated[str, StringConstraints(max_length=200)]


class SignInForm(BaseModel):
    """wanted: the address that was asked for."""

    code: Text
    password: Text
    wanted: Text = "/"


class InviteForm(BaseModel):
    """code, name: where the link does not say them."""

    password: Text
    again: Text
    code: Text = ""
    name: Text = ""


class PasswordForm(BaseModel):
    old: Text
    new: Text
    again: Text


def get_address(request: Request) -> str:
    return request.client.host if request.client else ""


@router.get("/sign-in", dependencies=[allow("sign_in")])
def show_sign_in(request: Request) -> Response:
    return page(request, "accounts/sign_in.html", title=phrase("Sign in"), wanted="/", what=None)


@router.post("/sign-in", dependencies=[allow("sign_in")])
def enter(
    request: Request, store: StoreDep, now: NowDep, form: Annotated[SignInForm, Form()]
) -> Response:
    done = sign_in(
        store,
        code=form.code,
        password=form.password,
        address=get_address(request),
        old_token=read_cookie(request),
        browser=read_browser(request),
        now=now,
    )
    if done is not None:
        return _open_session(request, done, as_local(form.wanted))
    what = phrase("The code or the password is wrong.")
    values = {"wanted": form.wanted, "what": what, "code": form.code}
    text = render_page(request, "accounts/sign_in.html", title=phrase("Sign in"), **values)
    return HTMLResponse(text, status_code=403)


def as_local(address: str) -> str:
    """The address if it is one of this server, else the start page: no sign-in leads elsewhere."""
    is_local = (
        address.startswith("/")
        and not address.startswith(("//", "/\\"))
        and address.isprintable()
        and "\\" not in address
    )
    return address if is_local else "/"


def _open_session(request: Request, done: SignedIn, address: str) -> Response:
    response = RedirectResponse(address, status_code=303)
    set_cookie(request, response, done.token)
    set_browser(request, response, done.browser)
    return response


@router.post("/sign-out", dependencies=[allow("own_account", "signed_out")])
def leave(request: Request, store: StoreDep, now: NowDep) -> Response:
    sign_out(store, read_cookie(request), now)
    response = RedirectResponse("/", status_code=303)
    drop_cookie(request, response)
    return response


@router.get("/welcome/{token}", dependencies=[allow("sign_in")])
def show_welcome(request: Request, token: str, store: StoreDep, now: NowDep) -> Response:
    return page(
        request,
        "accounts/welcome.html",
        title=phrase("Your account"),
        invite=invites.get_invite(store, token, now),
        typed=InviteForm(password="", again=""),
        error=None,
    )


@router.post("/welcome/{token}", dependencies=[allow("sign_in")])
def accept(
    request: Request,
    token: str,
    store: StoreDep,
    now: NowDep,
    form: Annotated[InviteForm, Form()],
) -> Response:
    try:
        done, role = use_invite(store, token, **form.model_dump(), now=now)
    except BadInput as error:
        invite = invites.get_invite(store, token, now)
        values = {"invite": invite, "typed": form, "error": error}
        text = render_page(request, "accounts/welcome.html", title=phrase("Your account"), **values)
        return HTMLResponse(text, status_code=400)
    is_led = may(role, "set_up") and load_guide(store).is_shown
    return _open_session(request, done, "/yard/start" if is_led else "/")


@router.get("/account", dependencies=[allow("own_account")])
def show_account(request: Request, caller: CallerDep) -> Response:
    _refuse_demo(caller)
    return page(request, "accounts/account.html", title=phrase("Your account"), what=None)


@router.post("/account/password", dependencies=[allow("own_account", "own_password_changed")])
def change_password(
    request: Request,
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
    form: Annotated[PasswordForm, Form()],
) -> Response:
    _refuse_demo(caller)
    done = sessions.change_password(store, caller, **form.model_dump(), now=now)
    return _open_session(request, done, "/")


def _refuse_demo(caller: Caller) -> None:
    if caller.session_no is None:
        raise NotAllowed(
            phrase("the demo has no accounts"),
            "",
            phrase("start qcapp serve with a database of your own"),
        )
