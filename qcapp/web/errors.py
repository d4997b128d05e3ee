"""Our errors as answers: one JSON shape for calls, one page for people. Only here."""

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException

from qcapp.errors import QcappError, StoreTrouble
from qcapp.web.pages import render_page
from qcapp.web.private import PREFIX

log = logging.getLogger("qcapp")


def install_error_handlers(app: FastAPI) -> None:
    app.add_exception_handler(QcappError, _on_ours)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(RequestValidationError, _on_request)
    app.add_exception_handler(Exception, _on_unknown)


def _on_ours(request: Request, error: QcappError) -> Response:
    answer = _answer(request, error.status, error.what, error.where, error.todo)
    if isinstance(error, StoreTrouble):
        answer.headers["Retry-After"] = str(error.retry_after_s)
    return answer


def _on_http(request: Request, error: HTTPException) -> Response:
    todo = "check the address" if error.status_code == 404 else "see the addresses on the start page"
    return _answer(request, error.status_code, str(error.detail), request.url.path, todo)


def _on_request(request: Request, error: RequestValidationError) -> Response:
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"])
    return _answer(request, 422, first["msg"], place, "correct this field and send it again")


def _on_unknown(request: Request, error: Exception) -> Response:
    log.error("not foreseen: %s %s", request.method, request.url.path, exc_info=error)
    return _answer(request, 500, "the server met an error it did not foresee", request.url.path, "try again; nothing on a phone is lost")


def _answer(request: Request, status: int, what: str, where: str, todo: str) -> Response:
    if request.url.path.startswith(("/api/", "/photos/")):
        return JSONResponse({"error": {"what": what, "where": where, "todo": todo}}, status_code=status)
    template = "summary_error.html" if request.url.path.startswith(PREFIX) else "error.html"
    page = render_page(request, template, title="Not done", what=what, where=where, todo=todo, status=status)
    return HTMLResponse(page, status_code=status)
