"""The yard lead's page of what a buyer reads on every summary."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.usecases.tell_buyers import BuyersForm, read_buyers_form, save_buyers_form
from qcapp.web.deps import StoreDep
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/buyers", include_in_schema=False)


@router.get("", dependencies=[allow("set_up")])
def show_buyers(request: Request, store: StoreDep) -> Response:
    return _buyers_page(request, store, read_buyers_form(store))


@router.post("", dependencies=[allow("set_up", "buyers_told")])
def tell_buyers(request: Request, store: StoreDep, form: Annotated[BuyersForm, Form()]) -> Response:
    save_buyers_form(store, form)
    if form.wrong:
        return _buyers_page(request, store, form)
    return RedirectResponse("/yard/buyers", status_code=303)


def _buyers_page(request: Request, store: Store, form: BuyersForm) -> Response:
    title = phrase("What buyers read")
    return yard_page(request, store, "yard/buyers.html", form, title=title)
