"""What every answer tells the browser: run nothing foreign, guess no type, be in no frame, hand on
no address.

Strict-Transport-Security is not here: whether a host may keep to https for ever is known to whoever
starts the server, not to a page of it.
"""

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SHARED = (
    "default-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "style-src 'self'; img-src 'self'"
)
PAGE_POLICY = SHARED
# A page that checks while one types: its own script and its own calls.
LIVE_POLICY = f"{SHARED}; script-src 'self'; connect-src 'self'"
# A page with a button that prints it: its own script, which calls nothing.
PRINT_POLICY = f"{SHARED}; script-src 'self'"
# A page on which a voice note is heard.
HEAR_POLICY = f"{SHARED}; media-src 'self'"
# A page where a voice note is recorded and heard before it is kept (blob:).
RECORD_POLICY = f"{PRINT_POLICY}; media-src 'self' blob:"
# The phone app: its own modules, its calls, its worker, photos taken a moment ago and voice
# notes (blob:).
APP_POLICY = (
    f"{SHARED} blob:; media-src blob:; script-src 'self'; connect-src 'self'; worker-src 'self'; "
    "manifest-src 'self'"
)
APP = ("/phone", "/sw.js")

_PERMISSIONS = "camera=(self), geolocation=(), microphone={}, payment=(), usb=()"
# Of the one page that records a voice note.
RECORD_PERMISSIONS = _PERMISSIONS.format("(self)")

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    # Not no-referrer: under that a browser sends "Origin: null" with our own forms, and
    # they could not be told from those of another site.
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": _PERMISSIONS.format("()"),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class SecurityHeadersMiddleware:
    """ASGI: adds each header unless the route has set its own."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        policy = APP_POLICY if scope["path"].startswith(APP) else PAGE_POLICY

        async def send_safe(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in {**HEADERS, "Content-Security-Policy": policy}.items():
                    headers.setdefault(name, value)
                # A page made for one person must not be kept for the next; files of the app set
                # their own.
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, send_safe)
