"""The artisan's card behind a personal link, as a page and on paper."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.i18n.active_locale import get_active_locale, use_locale
from qcapp.i18n.catalogue import list_languages, load_locale
from qcapp.store.registry.card_links import CardLink
from qcapp.usecases.load_card import load_own_card, load_own_media
from qcapp.usecases.print_card import name_artisan, print_card
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep, YardNameDep
from qcapp.web.layout.lesson_media import send_media
from qcapp.web.layout.own_card import send_card_pdf, view_card
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(prefix="/c/{token}", include_in_schema=False)


def _choose_language(request: Request, link: CardLink) -> str:
    """As the reader asks on the page, else as the link was made, else as the browser reads."""
    asked = request.query_params.get("language")
    if asked in list_languages():
        return str(asked)
    return link.language or get_active_locale().language


@router.get("", dependencies=[allow("open_card")])
def show_card(
    request: Request,
    token: str,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    now: NowDep,
) -> HTMLResponse:
    link, view = load_own_card(store, settings, token, now)
    locale = load_locale(_choose_language(request, link))
    with use_locale(locale):
        answer = page(
            request,
            "cards/card.html",
            title=name_artisan(view),
            shown=view_card(store, view, drawings, given_by=link.made_by),
            media=f"{request.url.path}/lesson/",
            paper=f"{request.url.path}/card.pdf",
            expires_at=link.expires_at,
        )
    answer.headers["Content-Language"] = locale.language
    return answer


@router.get("/lesson/{sha256}", dependencies=[allow("open_card")])
def get_card_media(
    token: str, sha256: str, store: StoreDep, settings: SettingsDep, now: NowDep
) -> Response:
    return send_media(load_own_media(store, settings, token, sha256, now))


@router.get("/card.pdf", dependencies=[allow("open_card")])
def get_card_pdf(
    request: Request,
    token: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    yard_name: YardNameDep,
    now: NowDep,
) -> Response:
    link, view = load_own_card(store, settings, token, now)
    content = print_card(
        store,
        drawings,
        view,
        yard=yard_name,
        given_by=link.made_by,
        language=_choose_language(request, link),
        now=now,
    )
    return send_card_pdf(content)
