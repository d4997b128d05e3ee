"""The page over plain http: the authority's certificate, its fingerprint, the steps, a live test.
Nothing else.

No app, no sign-in, no record, no cookie: whoever listens on the Wi-Fi learns only what every phone
may know. Who changes it on its way is found out by the fingerprint that the phone itself shows of
what it installed, hence the step that compares it.
"""

import json
import re
from collections.abc import Callable, Container
from datetime import datetime
from pathlib import Path
from typing import Any

import segno
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from qcapp.lan.folder import Lan
from qcapp.lan.leaf import count_days_left
from qcapp.lan.profile import make_profile

HERE = Path(__file__).resolve().parent
DEFAULT_LANGUAGE = "en"
PAIRS_IN_A_ROW = 8
TEMPLATES = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def load_bootstrap_texts(folder: Path, **values: str) -> dict[str, Any]:
    """Texts by language, from words/<language>.json; {origin} and the like are filled in."""
    return {
        path.stem: _fill(json.loads(path.read_text(encoding="utf-8")), values)
        for path in sorted(folder.glob("*.json"))
    }


def _fill(words: Any, values: dict[str, str]) -> Any:
    if isinstance(words, dict):
        return {key: _fill(value, values) for key, value in words.items()}
    if isinstance(words, list):
        return [_fill(value, values) for value in words]
    return str(words).format(**values)


def choose_language(accepted: str, known: Container[str]) -> str:
    """The first of the browser's languages that there are texts for; else the default."""
    asked = [part.split(";")[0].strip().lower().split("-")[0] for part in accepted.split(",")]
    return next((language for language in asked if language in known), DEFAULT_LANGUAGE)


def guess_system(agent: str) -> str:
    """Which steps to unfold: android, ios or laptop. A guess: the others stay one tap away."""
    if "Android" in agent:
        return "android"
    return "ios" if re.search("iPhone|iPad|iPod", agent) else "laptop"


def make_bootstrap(lan: Lan, *, picture_path: str, clock: Callable[[], datetime]) -> Starlette:
    """The ASGI app. picture_path: a picture of the main server, loaded over https by the live
    test.
    """
    origin, authority = lan.origin, lan.authority
    fixed = _describe_fixed(lan, picture_path)
    languages = load_bootstrap_texts(
        HERE / "words", origin=origin.url, app=fixed["app_url"], name=authority.name
    )
    template = TEMPLATES.get_template("bootstrap.html")

    def show_page(request: Request) -> Response:
        now = clock()
        language = choose_language(request.headers.get("accept-language", ""), languages)
        text = template.render(
            **fixed,
            words=languages[language],
            lang=language,
            now_ms=int(now.timestamp() * 1000),
            has_ended=lan.leaf is None or count_days_left(lan.leaf, now) < 0,
            system=guess_system(request.headers.get("user-agent", "")),
        )
        return answer(text, "text/html")

    def answer(content: str | bytes, kind: str) -> Response:
        return Response(content, media_type=kind, headers=list_headers(origin.url))

    kept = {
        "/authority.crt": (authority.der, "application/x-x509-ca-cert"),
        "/authority.mobileconfig": (make_profile(authority), "application/x-apple-aspen-config"),
        "/bootstrap.css": ((HERE / "page" / "bootstrap.css").read_bytes(), "text/css"),
        "/bootstrap.js": ((HERE / "page" / "bootstrap.js").read_bytes(), "text/javascript"),
    }
    files = [
        Route(path, lambda _request, found=found: answer(*found)) for path, found in kept.items()
    ]
    return Starlette(routes=[Route("/", show_page), *files])


def _describe_fixed(lan: Lan, picture_path: str) -> dict[str, Any]:
    """What the page says whoever asks."""
    app_url = f"{lan.origin.url}/phone/"
    pairs = lan.authority.fingerprint.split(":")
    return {
        "app_url": app_url,
        "picture_url": lan.origin.url + picture_path,
        "qr": segno.make(app_url, error="m").svg_inline(
            omitsize=True, dark="#201a15", light="#fffaf0", border=2
        ),
        "print_rows": [
            " ".join(pairs[at : at + PAIRS_IN_A_ROW]) for at in range(0, len(pairs), PAIRS_IN_A_ROW)
        ],
    }


def list_headers(origin: str) -> dict[str, str]:
    policy = (
        f"default-src 'none'; style-src 'self'; script-src 'self'; img-src {origin}; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return {
        "Content-Security-Policy": policy,
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Cache-Control": "no-store",
    }
