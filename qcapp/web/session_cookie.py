"""The cookie of a signed-in browser: unreadable for scripts, only to this host, only over https
where there is https.

SameSite=Lax, not Strict: a trainer's filtered page is shared as a link in a message, and under
Strict it would open as if signed out. Reading changes nothing here; every change is checked
(middleware/authorisation.py).
"""

from fastapi import Request, Response

from qcapp.access.sessions import LIFE
from qcapp.access.trusted_browser import LIFE as BROWSER_LIFE

NAME = "qcapp"


# Says that an account signed in here before; opens nothing (access/trusted_browser.py).
BROWSER = "qcapp-browser"


def _name(request: Request, name: str = NAME) -> str:
    # With the prefix a browser takes it only over https, for this very host and the whole of it
    # (RFC 6265bis).
    return f"__Host-{name}" if request.url.scheme == "https" else name


def read_cookie(request: Request) -> str | None:
    return request.cookies.get(_name(request))


def set_cookie(request: Request, response: Response, token: str) -> None:
    is_https = request.url.scheme == "https"
    life_s = int(LIFE.total_seconds())
    response.set_cookie(
        _name(request),
        token,
        max_age=life_s,
        path="/",
        secure=is_https,
        httponly=True,
        samesite="lax",
    )


def read_browser(request: Request) -> str | None:
    return request.cookies.get(_name(request, BROWSER))


def set_browser(request: Request, response: Response, token: str) -> None:
    response.set_cookie(
        _name(request, BROWSER),
        token,
        max_age=int(BROWSER_LIFE.total_seconds()),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )


def drop_cookie(request: Request, response: Response) -> None:
    is_https = request.url.scheme == "https"
    response.delete_cookie(_name(request), path="/", secure=is_https, httponly=True, samesite="lax")
