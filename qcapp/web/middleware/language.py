"""In which language a page speaks: as its address asks, else as this browser once chose, else as
the browser says it reads.

    ?language=fr            asks, and is kept in a cookie for a year
    the cookie              what was asked last
    Accept-Language         what the browser is set to

What machines read (calls, CSV, XLSX, JSON) is English whatever was chosen.
"""

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from qcapp.i18n.active_locale import use_locale
from qcapp.i18n.catalogue import (
    choose_language,
    list_languages,
    load_locale,
    name_language,
)
from qcapp.i18n.phrase import ENGLISH
from qcapp.web.rooms import find_rule

FIELD = "language"
COOKIE = "qcapp-language"
YEAR_S = 365 * 24 * 3600
# No page of words: calls, photos, and the phone app, which chooses for itself.
WORDLESS = ("/api/", "/photos/", "/static/", "/phone", "/sw.js", "/manifest.webmanifest")
VARYING = "Accept-Language, Cookie"


class LanguageMiddleware:
    """ASGI, around all that makes pages: chooses the words, says with a page which they are, keeps
    what was asked for.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith(WORDLESS):
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        asked = _find_asked(request)
        language = asked or _find_wished(request)
        # Reading a catalogue the first time takes a moment.
        words = (
            load_locale(ENGLISH)
            if language == ENGLISH
            else await run_in_threadpool(load_locale, language)
        )

        async def send_marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if headers.get("content-type", "").startswith("text/html"):
                    headers.setdefault("Content-Language", words.language)
                    headers.add_vary_header(VARYING)
                if asked:
                    headers.append(
                        "Set-Cookie", _make_cookie(asked, is_https=request.url.scheme == "https")
                    )
            await send(message)

        with use_locale(words):
            await self.app(scope, receive, send_marked)


def _find_asked(request: Request) -> str | None:
    """Only what is here: another value is no choice and overwrites none."""
    asked = request.query_params.get(FIELD)
    return asked if asked in list_languages() else None


def _find_wished(request: Request) -> str:
    kept = request.cookies.get(COOKIE)
    return (
        kept
        if kept in list_languages()
        else choose_language(read_accepted(request.headers.get("accept-language", "")))
    )


def read_accepted(header: str) -> list[str]:
    """Accept-Language (RFC 9110, 12.5.4) as tags, the most wished first; what cannot be read is no
    wish.
    """
    found = []
    for place, part in enumerate(header.split(",")[:50]):
        tag, _, weight = part.partition(";")
        try:
            quality = float(weight.strip().removeprefix("q=")) if weight.strip() else 1.0
        except ValueError:
            continue
        if tag.strip() not in ("", "*") and 0 < quality <= 1:
            found.append((-quality, place, tag.strip()))
    return [tag for _quality, _place, tag in sorted(found)]


def _make_cookie(language: str, *, is_https: bool) -> str:
    holder = Response()
    holder.set_cookie(
        COOKIE, language, max_age=YEAR_S, path="/", secure=is_https, httponly=True, samesite="lax"
    )
    return holder.headers["set-cookie"]


@dataclass(frozen=True)
class Choice:
    """One language a page can be read in. address: of this page in it, to be followed from here."""

    tag: str
    name: str
    address: str


def list_choices(request: Request) -> list[Choice]:
    """Every language that is here, for a link to this page in it; to the start where a form was
    sent to an address without a page.

    Never with the path: an error page must look the same whatever was guessed.
    """
    rest = [(key, value) for key, value in request.query_params.multi_items() if key != FIELD]
    is_page = request.method == "GET" or find_rule(request.app, "GET", request.url.path)
    return [
        Choice(
            tag, name_language(tag), f"{'' if is_page else '/'}?{urlencode([*rest, (FIELD, tag)])}"
        )
        for tag in list_languages()
    ]
