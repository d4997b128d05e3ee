"""The guide's index, its pages and their pictures, open to everybody."""

from dataclasses import dataclass, field
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.errors import NotFound, StartError
from qcapp.i18n.phrase import phrase
from qcapp.web.guide.markdown import INDEX, GuidePage, render_markdown
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
# A picture changes only with a new version of the program.
CACHE = "public, max-age=3600"


@dataclass(frozen=True)
class UserGuide:
    """texts: Markdown by page name; pictures: PNG files by file name."""

    texts: dict[str, str] = field(repr=False)
    pictures: dict[str, bytes] = field(repr=False)
    _pages: dict[str, GuidePage] = field(default_factory=dict, repr=False)

    def get_page(self, name: str) -> GuidePage:
        """Made when first asked for, then kept. Raises KeyError for a name that is none."""
        if name not in self._pages:
            self._pages[name] = render_markdown(self.texts[name], self.pictures)
        return self._pages[name]


def load_user_guide(static_dir: Path) -> UserGuide:
    """Reads the folder once at start. Raises StartError when it has no index."""
    folder = static_dir / "guide"
    texts = {path.stem: path.read_text(encoding="utf-8") for path in folder.glob("*.md")}
    if INDEX not in texts:
        raise StartError(
            "the guide's files are not here",
            str(folder),
            "set QCAPP_STATIC_DIR to the static folder",
        )
    pictures = {path.name: path.read_bytes() for path in (folder / "pictures").glob("*.png")}
    return UserGuide(texts, pictures)


@router.get("/guide", dependencies=[allow("read_guide")])
def show_index(request: Request) -> HTMLResponse:
    return _show(request, INDEX)


@router.get("/guide/{name}", dependencies=[allow("read_guide")])
def show_page(request: Request, name: str) -> HTMLResponse:
    if name not in request.app.state.user_guide.texts or name == INDEX:
        raise NotFound(
            phrase("the guide has no such page"), name, phrase("choose one from its list")
        )
    return _show(request, name)


@router.get("/guide/pictures/{name}", dependencies=[allow("read_guide")])
def get_picture(request: Request, name: str) -> Response:
    picture = request.app.state.user_guide.pictures.get(name)
    if picture is None:
        raise NotFound(phrase("the guide has no such picture"), name, phrase("check the address"))
    return Response(picture, media_type="image/png", headers={"Cache-Control": CACHE})


def _show(request: Request, name: str) -> HTMLResponse:
    found = request.app.state.user_guide.get_page(name)
    return page(
        request,
        "guide/guide.html",
        title=found.title,
        version=request.app.version,
        sections=found.sections,
        html=found.html,
    )
