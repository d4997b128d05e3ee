"""Keeps every page of the server under the one origin that phones know.

The certificate is also good for the yard's name, so a person may open it there; the app
would keep its records under that name, apart from the others. Hence: pages are sent on,
changes are refused.
"""

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from qcapp.lan.origin import Origin


class OneOrigin:
    """ASGI: passes requests whose Host is the origin's."""

    def __init__(self, app: ASGIApp, origin: Origin) -> None:
        self.app, self.origin = app, origin

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if (
            scope["type"] != "http"
            or Headers(scope=scope).get("host", "").lower() == self.origin.netloc
        ):
            await self.app(scope, receive, send)
            return
        if scope["method"] in ("GET", "HEAD"):
            query = scope["query_string"].decode("latin-1")
            where = (
                self.origin.url
                + scope["raw_path"].decode("latin-1")
                + (f"?{query}" if query else "")
            )
            answer: Response = RedirectResponse(where, status_code=307)
        else:
            answer = PlainTextResponse(
                f"this server is {self.origin.url}; open it there", status_code=421
            )
        await answer(scope, receive, send)
