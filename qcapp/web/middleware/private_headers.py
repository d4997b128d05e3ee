"""Headers of pages behind a link, a buyer's or an artisan's: nothing is kept in a cache, nothing
tells the address on.
"""

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# What each begins with, and the page that says what went wrong there.
ERROR_PAGES = {"/s/": "buyer/error.html", "/c/": "cards/error.html"}
PREFIXES = tuple(ERROR_PAGES)
HEADERS = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex",
    # A card brings the voice note of its lesson.
    "Content-Security-Policy": "default-src 'none'; img-src 'self'; media-src 'self'; "
    "style-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
}


class PrivateHeadersMiddleware:
    """Around the whole app, so that error pages have them as well."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_private = scope["type"] == "http" and scope["path"].startswith(PREFIXES)

        async def send_marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        await self.app(scope, receive, send_marked if is_private else send)
