"""Keeping to https: Strict-Transport-Security (RFC 6797: after one visit the browser never asks
over http again), and a server that is open over https only.
"""

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

DAY_S = 86_400


class StrictTransport:
    """ASGI: adds the header for `days`; over https only, as section 7.2 asks."""

    def __init__(self, app: ASGIApp, days: int) -> None:
        self.app, self.value = app, f"max-age={days * DAY_S}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["scheme"] != "https":
            await self.app(scope, receive, send)
            return

        async def send_strict(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)["Strict-Transport-Security"] = self.value
            await send(message)

        await self.app(scope, receive, send_strict)


class OnlyHttps:
    """ASGI: refuses what did not come over https, for a server that other machines reach beside the
    proxy.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["scheme"] != "https":
            answer = PlainTextResponse("open this server by its https address\n", status_code=421)
            await answer(scope, receive, send)
            return
        await self.app(scope, receive, send)
