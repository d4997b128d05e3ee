"""Our errors as answers: one JSON shape for calls, one page for people. Only here."""

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from qcapp.errors import (
    BadInput,
    NotPaired,
    NotSignedIn,
    QcappError,
    StoreError,
    TooMany,
    WrongMethod,
)
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import ENGLISH, phrase
from qcapp.web.layout.page import render_page
from qcapp.web.middleware.private_headers import ERROR_PAGES

# Starlette's own words for what no route of ours says.
DETAILS = {"Not Found": phrase("Not Found"), "Method Not Allowed": phrase("Method Not Allowed")}
FIELDS = {
    "missing": phrase("this field is missing"),
    "string_too_short": phrase("this text is too short"),
    "string_too_long": phrase("this text is too long"),
    "int_parsing": phrase("a whole number is needed"),
    "date_parsing": phrase("this is not a day"),
    "date_from_datetime_parsing": phrase("this is not a day"),
}


def install_error_handlers(app: FastAPI) -> None:
    app.exception_handler(QcappError)(answer_error)
    app.exception_handler(HTTPException)(_on_http)
    app.exception_handler(RequestValidationError)(_on_request)
    app.exception_handler(ClientDisconnect)(_on_broken_off)


def answer_error(request: Request, error: QcappError) -> Response:
    if isinstance(error, NotSignedIn) and not _is_call(request):
        # The address asked for is in the form, not in the query, so that no link from elsewhere can
        # set it.
        wanted = request.url.path if request.method == "GET" else "/"
        page = render_page(
            request, "accounts/sign_in.html", title=phrase("Sign in"), wanted=wanted, what=None
        )
        return HTMLResponse(page, status_code=error.status, headers=_headers(error))
    reason = error.reason if isinstance(error, BadInput) else None
    if reason is not None and _is_call(request):
        told = {"what": error.what, "where": error.where, "todo": error.todo}
        return JSONResponse(
            {"error": {**told, "reason": reason.to_json()}}, status_code=error.status
        )
    return _answer(request, error.status, error.what, error.where, error.todo, _headers(error))


def _headers(error: QcappError) -> dict[str, str]:
    if isinstance(error, TooMany):
        return {"Retry-After": str(error.wait_s)}
    if isinstance(error, StoreError):
        return {"Retry-After": str(error.retry_after_s)}
    if isinstance(error, WrongMethod):
        return {"Allow": ", ".join(error.methods)}
    if isinstance(error, NotPaired):
        return {"WWW-Authenticate": "Bearer"}
    # RFC 9110 wants a challenge with each 401; there is no registered scheme for a form and a
    # cookie.
    return {"WWW-Authenticate": "Form"} if isinstance(error, NotSignedIn) else {}


def _on_http(request: Request, error: HTTPException) -> Response:
    todo = (
        phrase("check the address")
        if error.status_code == 404
        else phrase("see the addresses on the start page")
    )
    return _answer(
        request, error.status_code, DETAILS.get(error.detail, error.detail), request.url.path, todo
    )


def _on_request(request: Request, error: RequestValidationError) -> Response:
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"])
    # The message is pydantic's, in English; a page in another language says only that the field is
    # not right.
    is_english = get_active_locale().language == ENGLISH
    what = (
        first["msg"]
        if is_english or _is_call(request)
        else FIELDS.get(first["type"], phrase("this field is not valid"))
    )
    return _answer(request, 422, what, place, phrase("correct this field and send it again"))


def _on_broken_off(_request: Request, _error: ClientDisconnect) -> Response:
    """For the log alone: whoever asked is gone, which is the network's doing and no fault here."""
    return Response(status_code=400)


def answer_unforeseen(request: Request) -> Response:
    """Nothing of the error itself: what it holds is in the server's own log."""
    return _answer(
        request,
        500,
        phrase("the server had an unexpected error"),
        "",
        phrase("try again; nothing on a phone is lost"),
    )


def _is_call(request: Request) -> bool:
    return request.url.path.startswith(("/api/", "/photos/"))


def _answer(
    request: Request,
    status: int,
    what: str,
    where: str,
    todo: str,
    headers: dict[str, str] | None = None,
) -> Response:
    if _is_call(request):
        return JSONResponse(
            {"error": {"what": what, "where": where, "todo": todo}},
            status_code=status,
            headers=headers,
        )
    pages = (page for start, page in ERROR_PAGES.items() if request.url.path.startswith(start))
    template = next(pages, "layout/error.html")
    page = render_page(
        request,
        template,
        title=phrase("This did not work"),
        what=what,
        where=where,
        todo=todo,
        status=status,
    )
    return HTMLResponse(page, status_code=status, headers=headers)
