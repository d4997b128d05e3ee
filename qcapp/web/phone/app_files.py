"""The phone app's files: one set with one name, served whole and for ever the same.

The build name is a hash over every file, so a changed file is a new set under a new
address; the worker fetches the set all-or-nothing by the hashes in its file list.
"""

import gzip
import hashlib
import html
import json
import mimetypes
from dataclasses import dataclass, field
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.errors import NotFound, StartError
from qcapp.i18n.catalogue import choose_language, get_direction
from qcapp.i18n.phone_texts import describe_languages
from qcapp.i18n.phrase import ENGLISH, phrase
from qcapp.web.middleware.language import read_accepted
from qcapp.web.rules import allow

TEXT = {".html", ".js", ".css", ".json", ".svg", ".webmanifest"}
# Only what the phone needs without signal; page assets and large icons are fetched when online.
PRECACHED = ("phone/js/", "phone/css/", "phone/words/", "phone/icons/icon-192.png")
# The user guide stands beside these: a changed sentence there is no new build for phones to fetch.
FOLDERS = ("phone/", "pages/")
router = APIRouter(include_in_schema=False)
# Apart, because a server without phones has pages too.
assets = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Shell:
    """build: 12 hex digits; files: bytes by path below static/, placeholders filled in."""

    build: str
    files: dict[str, bytes] = field(repr=False)
    _packed: dict[str, bytes] = field(default_factory=dict, repr=False)

    @property
    def base(self) -> str:
        return f"/static/{self.build}/"

    def list_precached(self) -> list[tuple[str, str]]:
        """(address, SHA-256 hex) of each file of the set, the app's page first."""
        paths = [path for path in sorted(self.files) if path.startswith(PRECACHED)]
        entries = [
            ("/phone/", self.files["phone/index.html"]),
            *((self.base + path, self.files[path]) for path in paths),
        ]
        return [(address, hashlib.sha256(content).hexdigest()) for address, content in entries]

    def pack(self, path: str) -> bytes:
        """The file as gzip, kept: packed when first asked for, because a waiting server needs
        none.
        """
        if path not in self._packed:
            self._packed[path] = gzip.compress(self.files[path], 9, mtime=0)
        return self._packed[path]

    def build_worker(self) -> str:
        files = json.dumps(self.list_precached(), separators=(",", ":"))
        return (
            self.files["phone/sw.js"]
            .decode()
            .replace("__BUILD__", self.build)
            .replace('"__FILES__"', files)
        )


def load_shell(static_dir: Path) -> Shell:
    """Reads the folder once at start. Raises StartError when it is not the app's."""
    paths = sorted(path for path in static_dir.rglob("*") if path.is_file())
    named = {path.relative_to(static_dir).as_posix(): path for path in paths}
    contents = {name: path.read_bytes() for name, path in named.items() if name.startswith(FOLDERS)}
    if "phone/index.html" not in contents or "phone/sw.js" not in contents:
        raise StartError(
            "the phone app's files are not here",
            str(static_dir),
            "set QCAPP_STATIC_DIR to the static folder",
        )
    contents = add_languages(contents)
    digest = hashlib.sha256()
    for path, content in contents.items():
        digest.update(f"{path}\0{len(content)}\0".encode() + content)
    build = digest.hexdigest()[:12]
    filled = {
        path: content.replace(b"__BASE__", f"/static/{build}/".encode()).replace(
            b"__APP_BUILD__", build.encode()
        )
        if Path(path).suffix in TEXT
        else content
        for path, content in contents.items()
    }
    return Shell(build, filled)


def add_languages(contents: dict[str, bytes]) -> dict[str, bytes]:
    """The set with index.html linking to phone/words/<language>.json of every language, English
    first: so the phone knows which there are.
    """
    languages = sorted(
        (Path(path).stem for path in contents if path.startswith("phone/words/")),
        key=lambda tag: (tag != ENGLISH, tag),
    )
    words = {
        language: json.loads(contents[f"phone/words/{language}.json"]) for language in languages
    }
    links = "\n  ".join(
        f'<link rel="alternate" hreflang="{tag}" dir="{direction}" title="{html.escape(name)}" '
        f'href="__BASE__phone/words/{tag}.json">'
        for tag, name, direction in (one.values() for one in describe_languages(words))
    )
    return {
        **contents,
        "phone/index.html": contents["phone/index.html"].replace(b"__LANGUAGES__", links.encode()),
    }


@router.get("/phone", dependencies=[allow("open_app")])
def redirect_phone() -> RedirectResponse:
    return RedirectResponse("/phone/")


@router.get("/phone/{rest:path}", dependencies=[allow("open_app")])
def get_phone_page(request: Request) -> Response:
    return _serve_file(request, "phone/index.html", "text/html", cache="no-cache")


@router.get("/sw.js", dependencies=[allow("open_app")])
def get_worker(request: Request) -> Response:
    return _asset(
        request.app.state.shell.build_worker().encode(), "text/javascript", cache="no-cache"
    )


@router.get("/manifest.webmanifest", dependencies=[allow("open_app")])
def get_manifest(request: Request) -> Response:
    """In the language of the browser that installs the app."""
    files = request.app.state.shell.files
    languages = [Path(path).stem for path in files if path.startswith("phone/words/")]
    language = choose_language(read_accepted(request.headers.get("accept-language", "")), languages)
    words = json.loads(files[f"phone/words/{language}.json"])
    texts = {
        "lang": language,
        "dir": get_direction(language),
        **{name: words[f"app.{name}"] for name in ("name", "short_name", "description")},
    }
    answer = _asset(
        json.dumps(json.loads(files["phone/manifest.webmanifest"]) | texts).encode(),
        "application/manifest+json",
        cache="no-cache",
    )
    answer.headers["Vary"] = "Accept-Language"
    return answer


@assets.get("/static/{build}/{path:path}", dependencies=[allow("open_app")])
def get_asset(request: Request, build: str, path: str) -> Response:
    shell = request.app.state.shell
    if build != shell.build or path not in shell.files:
        raise NotFound(
            phrase("there is no such file in this version"), path, phrase("reload the page")
        )
    kind = mimetypes.guess_type(path)[0] or "application/octet-stream"
    answer = _serve_file(request, path, kind, cache="public, max-age=31536000, immutable")
    if path.startswith("phone/icons/"):
        # The plain-http page with the yard's certificate shows one, to see whether the phone trusts
        # it yet.
        answer.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
    return answer


def _serve_file(request: Request, path: str, kind: str, *, cache: str) -> Response:
    """A file of the set, packed where the browser takes that and it helps."""
    shell = request.app.state.shell
    if Path(path).suffix not in TEXT:
        return _asset(shell.files[path], kind, cache=cache)
    is_packed = "gzip" in request.headers.get("accept-encoding", "")
    answer = _asset(shell.pack(path) if is_packed else shell.files[path], kind, cache=cache)
    if is_packed:
        answer.headers.update({"Content-Encoding": "gzip", "Vary": "Accept-Encoding"})
    return answer


def _asset(content: bytes, kind: str, *, cache: str) -> Response:
    return Response(
        content,
        media_type=kind,
        headers={"Cache-Control": cache, "X-Content-Type-Options": "nosniff"},
    )
