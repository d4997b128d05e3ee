"""Every request passes here before its route runs, and nothing without a rule gets through.

Phones show a token in a header, people a cookie. A browser sends a cookie along when another site
makes it ask, so a change by cookie must also come from a page of ours: the browser itself says so
(Fetch Metadata, or Origin in older ones and on plain http). That is why no form carries a token of
its own.
"""

from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from qcapp.access.devices import identify_device, read_bearer
from qcapp.access.roles import SIGNED_IN
from qcapp.access.sessions import NOBODY, Caller, find_caller
from qcapp.errors import NotAllowed, NotFound, NotPaired, NotSignedIn, QcappError, WrongMethod
from qcapp.i18n.phrase import phrase
from qcapp.usecases.note_change import note_change
from qcapp.web.layout.labels import ROLES
from qcapp.web.middleware.body_limit import limit_body, refuse_long_body
from qcapp.web.middleware.errors import answer_error
from qcapp.web.reach import is_loopback
from qcapp.web.rooms import find_rule, list_methods
from qcapp.web.rules import Rule
from qcapp.web.session_cookie import read_cookie

DEMO = Caller("yard_lead", code="DEMO")
# These need no cookie and use none: a code or a link is the whole key.
SITE_FREE = ("join_phone", "open_shared")
# Never kept in the trail, whatever a route calls it.
SECRET_PARTS = ("token",)


class AuthorisationMiddleware:
    """ASGI. The app's state gives store, clock and has_no_passwords."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            raise NotFound(
                phrase("only HTTP is supported here"),
                scope["type"],
                phrase("see the addresses on the start page"),
            )
        request = Request(scope, receive)
        state = request.state
        state.caller, state.rule, state.about, state.not_paired = NOBODY, None, {}, None
        try:
            await run_in_threadpool(_look_up, request)
            if state.rule is None:
                raise _no_rule(request)
            _refuse_other_sites(request, state.caller, state.rule)
            _refuse_role(request, state.caller, state.rule)
            refuse_long_body(request, state.rule.max_bytes)
        except QcappError as error:
            await answer_error(request, error)(scope, receive, send)
            return
        receive = limit_body(receive, state.rule.max_bytes)
        await self.app(scope, receive, _trailing(request, send) if state.rule.is_change else send)


def _look_up(request: Request) -> None:
    """What is asked, and who asks. It may have to load a room, which holds up nobody else."""
    state = request.state
    state.rule = find_rule(request.app, request.method, request.scope["path"])
    state.caller = _identify(request)


def _identify(request: Request) -> Caller:
    """A token wins over a cookie: who sends one means to be a phone."""
    state = request.app.state
    if read_bearer(request.headers.get("authorization")):
        return _identify_phone(request)
    cookie = read_cookie(request)
    if cookie:
        found = find_caller(state.store, cookie, state.clock())
        if found is not NOBODY:
            return found
    return DEMO if state.has_no_passwords and is_this_machine(request) else NOBODY


def _identify_phone(request: Request) -> Caller:
    """NOBODY for a token that is not good; why, is said where a phone is needed."""
    try:
        phone = identify_device(request.app.state.store, request.headers["authorization"])
        role = "inspector" if phone.buyer_batch is None else "buyers_inspector"
        return Caller(role, device_id=phone.id, buyer_batch=phone.buyer_batch)
    except NotPaired as error:
        request.state.not_paired = error
        return NOBODY


def is_this_machine(request: HTTPConnection) -> bool:
    """Whether caller and address are this machine, without a proxy between.

    The Host is looked at too: a page elsewhere whose name was made to point here would bring its
    own.
    """
    proxied = any(name in request.headers for name in ("forwarded", "x-forwarded-for", "x-real-ip"))
    return (
        not proxied
        and request.client is not None
        and all(map(is_loopback, (request.client.host, request.url.hostname or "")))
    )


def _refuse_other_sites(request: Request, caller: Caller, rule: Rule) -> None:
    # Who shows a token, even one no longer good, uses no cookie, and no other site can make a
    # browser show one.
    is_phone = caller.device_id is not None or request.state.not_paired
    if not rule.is_change or rule.action in SITE_FREE or is_phone:
        return
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    is_own = site == "same-origin" if site else _is_own_origin(request, origin or "")
    if not is_own:
        raise NotAllowed(
            phrase("this change did not come from a page of this server"),
            "Origin",
            phrase("open the page here and send the form again"),
        )


def _is_own_origin(request: Request, origin: str) -> bool:
    came = urlsplit(origin)
    return (came.scheme, came.netloc.lower()) == (request.url.scheme, request.url.netloc.lower())


def _refuse_role(request: Request, caller: Caller, rule: Rule) -> None:
    if caller.role in rule.roles:
        return
    if not set(rule.roles) & set(SIGNED_IN):
        raise request.state.not_paired or NotPaired(
            phrase("this phone must join again"),
            "token",
            phrase("enter a new join code; unsent work is safe"),
        )
    if caller.role == "anyone":
        raise NotSignedIn(
            phrase("sign in first"), "", phrase("sign in with your code and password")
        )
    raise NotAllowed(
        phrase("a %(role)s may not do this", role=ROLES[caller.role]),
        rule.path,
        phrase("ask the yard lead to do it"),
    )


def _no_rule(request: Request) -> QcappError:
    path = request.scope["path"]
    methods = list_methods(request.app, path)
    if methods and request.method not in methods:
        return WrongMethod(path, methods)
    return NotFound(phrase("there is no page at this address"), path, phrase("check the address"))


def _trailing(request: Request, send: Send) -> Send:
    """Writes who did what as soon as a change has been made, before the answer leaves."""

    async def send_and_note(message: Message) -> None:
        caller = request.state.caller
        # about is None: the route says that nothing was changed, as when a form is shown again.
        is_done = (
            message["type"] == "http.response.start"
            and message["status"] < 400
            and request.state.about is not None
        )
        if is_done and caller.code:
            await run_in_threadpool(_note, request, caller.code)
        await send(message)

    return send_and_note


def _note(request: Request, account: str) -> None:
    state, rule = request.app.state, request.state.rule
    parts = {
        key: str(value) for key, value in request.path_params.items() if key not in SECRET_PARTS
    }
    if not rule.audit_message:
        parts["route"] = f"{rule.method} {rule.path}"
    note_change(
        state.store,
        action=rule.audit_message or "other_change",
        by=account,
        about={**parts, **request.state.about},
        now=state.clock(),
    )


def get_caller(request: Request) -> Caller:
    caller: Caller = request.state.caller
    return caller


def get_account(request: Request) -> str:
    """The code of the account that asks; for routes that only an account may use."""
    return get_caller(request).code or ""


CallerDep = Annotated[Caller, Depends(get_caller)]
AccountDep = Annotated[str, Depends(get_account)]
