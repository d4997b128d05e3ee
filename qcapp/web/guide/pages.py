"""The guide's index, its pages and their pictures, open to everybody."""

import functools

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import ENGLISH, phrase
from qcapp.web.guide.files import INDEX, UserGuide
from qcapp.web.guide.markdown import GuidePage, render_markdown
from qcapp.web.layout.page import page
from qcapp.web.middleware.language import list_choices
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
# A picture changes only with a new version of the program.
CACHE = "public, max-age=3600"


@functools.lru_cache(maxsize=200)
def render_page(guide: UserGuide, name: str, language: str = ENGLISH) -> GuidePage:
    """Made when first asked for, then kept. Raises KeyError for a page that is none."""
    if language == ENGLISH:
        return render_markdown(guide.texts[name], guide.pictures)
    anchors = render_page(guide, name).anchors
    return render_markdown(guide.translations[name, language], guide.pictures, anchors)


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
    found = render_page(guide, name, language)
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
