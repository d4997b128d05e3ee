"""The guide's index, its pages and their pictures, open to everybody."""

from dataclasses import dataclass, field
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.errors import NotFound, StartError
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import ENGLISH, phrase
from qcapp.web.guide.markdown import INDEX, GuidePage, render_markdown
from qcapp.web.layout.page import page
from qcapp.web.middleware.language import list_choices
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
# A picture changes only with a new version of the program.
CACHE = "public, max-age=3600"


@dataclass(frozen=True)
class UserGuide:
    """texts: Markdown by page name; translations: the same by (page name, language), of the pages
    that have them; pictures: PNG files by file name.
    """

    texts: dict[str, str] = field(repr=False)
    pictures: dict[str, bytes] = field(repr=False)
    translations: dict[tuple[str, str], str] = field(default_factory=dict, repr=False)
    _pages: dict[tuple[str, str], GuidePage] = field(default_factory=dict, repr=False)

    def get_page(self, name: str, language: str = ENGLISH) -> GuidePage:
        """Made when first asked for, then kept. Raises KeyError for a page that is none."""
        if (name, language) not in self._pages:
            if language == ENGLISH:
                made = render_markdown(self.texts[name], self.pictures)
            else:
                anchors = self.get_page(name).anchors
                text = self.translations[name, language]
                made = render_markdown(text, self.pictures, anchors)
            self._pages[name, language] = made
        return self._pages[name, language]

    def list_languages(self, name: str) -> list[str]:
        """In which a page can be read, English first."""
        return [ENGLISH, *sorted(language for page, language in self.translations if page == name)]


def load_user_guide(static_dir: Path) -> UserGuide:
    """Reads the folder once at start: keeping.md, and keeping.fr.md where it is translated.

    Raises StartError when it has no index.
    """
    folder = static_dir / "guide"
    texts, translations = {}, {}
    for path in folder.glob("*.md"):
        name, _, language = path.stem.partition(".")
        text = path.read_text(encoding="utf-8")
        if language:
            translations[name, language] = text
        else:
            texts[name] = text
    if INDEX not in texts:
        raise StartError(
            "the guide's files are not here",
            str(folder),
            "set QCAPP_STATIC_DIR to the static folder",
        )
    pictures = {path.name: path.read_bytes() for path in (folder / "pictures").glob("*.png")}
    return UserGuide(texts, pictures, translations)


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
    guide: UserGuide = request.app.state.user_guide
    languages, wished = guide.list_languages(name), get_active_locale().language
    language = wished if wished in languages else ENGLISH
    found = guide.get_page(name, language)
    return page(
        request,
        "guide/guide.html",
        title=found.title,
        version=request.app.version,
        sections=found.sections,
        html=found.html,
        language=language,
        other_languages=[
            one for one in list_choices(request) if one.tag in languages and one.tag != language
        ],
    )
