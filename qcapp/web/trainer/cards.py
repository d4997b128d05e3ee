"""The artisans' cards: the lot that gives them, each card, the links to it."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from qcapp.access.card_links import end_card_link
from qcapp.i18n.active_locale import get_active_locale, use_locale
from qcapp.i18n.catalogue import list_languages, load_locale, name_language
from qcapp.i18n.phrase import phrase
from qcapp.reports.card_lot import BEFORE_DAYS, MAX_WEEKS, MIN_WEEKS, USUAL_WEEKS
from qcapp.reports.groups import MIN_OF_PERSON
from qcapp.stats.lot import MIN_PEOPLE
from qcapp.store.engine import Store
from qcapp.usecases.card_lot import draw_card_lot, load_cards, switch_cards
from qcapp.usecases.give_card import give_card_link
from qcapp.usecases.load_card import load_given_card
from qcapp.usecases.print_card import name_artisan, print_card
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep, YardNameDep
from qcapp.web.layout.own_card import ShownCard, send_card_pdf, view_card
from qcapp.web.layout.page import page
from qcapp.web.layout.qr import draw_code
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.middleware.security_headers import HEAR_POLICY
from qcapp.web.reach import find_reach
from qcapp.web.rules import allow

router = APIRouter(prefix="/trainer/cards", include_in_schema=False)


class LotForm(BaseModel):
    weeks: Annotated[int, Field(ge=MIN_WEEKS, le=MAX_WEEKS)]


class SwitchForm(BaseModel):
    to: Annotated[str, Field(pattern="^(on|off)$")]


class LinkForm(BaseModel):
    """language: empty for that of the artisan's browser."""

    language: Annotated[str, Field(max_length=20)] = ""


@router.get("", dependencies=[allow("see_cards")])
def show_cards(request: Request, store: StoreDep, now: NowDep) -> Response:
    return page(
        request,
        "trainer/cards.html",
        title=phrase("Cards for the artisans"),
        view=load_cards(store, now),
        weeks=(MIN_WEEKS, USUAL_WEEKS, MAX_WEEKS),
        min_people=MIN_PEOPLE,
        min_stoves=MIN_OF_PERSON,
        before_days=BEFORE_DAYS,
    )


@router.post("/lot", dependencies=[allow("give_cards", "card_lot_drawn")])
def draw(
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[LotForm, Form()],
) -> Response:
    draw_card_lot(store, settings, weeks=form.weeks, by=by, now=now)
    return _back()


@router.post("/switch", dependencies=[allow("switch_cards", "cards_switched")])
def switch(request: Request, store: StoreDep, form: Annotated[SwitchForm, Form()]) -> Response:
    switch_cards(store, is_off=form.to == "off")
    request.state.about = {"answer": form.to}
    return _back()


def _back(code: str = "") -> RedirectResponse:
    return RedirectResponse(f"/trainer/cards{f'/{code}' if code else ''}", status_code=303)


@router.get("/{code}", dependencies=[allow("see_cards")])
def show_card(
    request: Request,
    code: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    now: NowDep,
    by: AccountDep,
) -> Response:
    view = load_given_card(store, settings, code, now)
    shown = view_card(store, view, drawings, given_by=by)
    return _card_page(request, code, shown, _list_links(store, code, now))


def _card_page(
    request: Request,
    code: str,
    shown: ShownCard,
    links: list[object],
    fresh: Mapping[str, object] | None = None,
) -> Response:
    """fresh: the link just made, shown once."""
    answer = page(
        request,
        "trainer/card.html",
        title=phrase("Card of %(title)s", title=name_artisan(shown.view)),
        code=code,
        shown=shown,
        links=links,
        choices=[(tag, name_language(tag)) for tag in list_languages()],
        fresh=fresh,
    )
    answer.headers["Content-Security-Policy"] = HEAR_POLICY
    return answer


def _list_links(store: Store, code: str, now: NowDep) -> list[object]:
    rows = load_cards(store, now).rows
    return [link for row in rows if row.person["code"] == code for link in row.links]


@router.get("/{code}/card.pdf", dependencies=[allow("see_cards")])
def get_card_pdf(
    code: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    yard_name: YardNameDep,
    now: NowDep,
    by: AccountDep,
    language: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    view = load_given_card(store, settings, code, now)
    spoken = language if language in list_languages() else get_active_locale().language
    with use_locale(load_locale(spoken)):
        content = print_card(
            store, drawings, view, yard=yard_name, given_by=by, language=spoken, now=now
        )
    return send_card_pdf(content)


@router.post("/{code}/links", dependencies=[allow("give_cards", "card_link_given")])
def add_link(
    request: Request,
    code: str,
    *,
    store: StoreDep,
    settings: SettingsDep,
    drawings: DrawingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[LinkForm, Form()],
) -> Response:
    token = give_card_link(store, settings, code, language=form.language, by=by, now=now)
    reach = find_reach(request)
    address = reach.link(f"c/{token}")
    view = load_given_card(store, settings, code, now)
    shown = view_card(store, view, drawings, given_by=by)
    fresh = {
        "address": address,
        "path": f"c/{token}",
        "reach": reach,
        "code": draw_code(address) if address else "",
    }
    return _card_page(request, code, shown, _list_links(store, code, now), fresh)


@router.post("/{code}/links/{no}/end", dependencies=[allow("give_cards", "card_link_ended")])
def end_link(code: str, no: int, store: StoreDep, now: NowDep) -> Response:
    end_card_link(store, artisan=code, no=no, now=now)
    return _back()
