"""One JSON line a request, for whoever runs the server: what was asked, how it went, how long it
took.

The route's template stands in for the address, because addresses hold links' tokens and people's
codes; no name, token, address of a caller or content of a message is written. An error is told by
its type and the lines it passed, not by its message, which may quote what somebody typed.
"""

import json
import logging
import secrets
import time
import traceback
from datetime import UTC, datetime
from typing import Any

from fastapi import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from qcapp.web.middleware.errors import answer_unforeseen

log = logging.getLogger("qcapp.requests")


class JsonLines(logging.Formatter):
    """A record as one line of JSON; what a caller gave as extra `facts` stands beside time and
    level.
    """

    def format(self, record: logging.LogRecord) -> str:
        at = (
            datetime.fromtimestamp(record.created, UTC)
            .isoformat(timespec="milliseconds")
            .replace("+00:00", "Z")
        )
        facts = getattr(record, "facts", None) or {"message": record.getMessage()}
        return json.dumps({"at": at, "level": record.levelname.lower(), **facts})


def start_logging(level: int = logging.INFO) -> None:
    """Sends the server's lines from this level on to stderr; called by the commands that start a
    server.
    """
    handler = logging.StreamHandler()
    handler.setFormatter(JsonLines())
    log.handlers[:] = [handler]
    log.setLevel(level)
    log.propagate = False


class RequestLogMiddleware:
    """ASGI, outermost of ours: also the place where an unforeseen error becomes an answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request_id, began, status = secrets.token_hex(8), time.monotonic(), 0

        async def send_noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message["headers"], (b"x-request-id", request_id.encode())]
            await send(message)

        unforeseen = None
        try:
            await self.app(scope, receive, send_noting)
        # Whatever it is, it is told in the log and becomes an answer.
        except Exception as error:  # noqa: BLE001
            unforeseen = error
            if not status:
                await answer_unforeseen(Request(scope))(scope, receive, send_noting)
        facts = {
            "request_id": request_id,
            "method": _known_method(scope),
            "route": _route(scope),
            "status": status,
        }
        ms = round((time.monotonic() - began) * 1000)
        log.log(
            logging.ERROR if unforeseen else logging.INFO,
            "request",
            extra={"facts": {**facts, "ms": ms, **_describe(unforeseen)}},
        )


def _known_method(scope: Scope) -> str:
    return (
        scope["method"]
        if scope["method"] in ("GET", "HEAD", "POST", "PATCH", "PUT", "DELETE", "OPTIONS")
        else "other"
    )


def _route(scope: Scope) -> str:
    rule = scope.get("state", {}).get("rule")
    return rule.path if rule else "none"


def _describe(error: Exception | None) -> dict[str, Any]:
    if error is None:
        return {}
    frames = traceback.extract_tb(error.__traceback__)
    return {
        "error": type(error).__name__,
        "passed": [
            f"{frame.filename.rsplit('qcapp/', 1)[-1]}:{frame.lineno} {frame.name}"
            for frame in frames
        ][-12:],
    }
