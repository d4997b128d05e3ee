"""The first page of a new yard on its laptop, and which version runs."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.access.invites import make_first_link
from qcapp.errors import NotSignedIn
from qcapp.i18n.phrase import phrase
from qcapp.usecases.laptop import has_lead
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.laptop.here import LaptopDep, find_laptop
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


@router.get("/laptop/version", dependencies=[allow("begin_yard")])
def tell_version(request: Request) -> dict[str, str]:
    """By this a new version is known to answer."""
    return {"program": "qcapp", "version": request.app.version}


@router.get("/laptop/first", dependencies=[allow("begin_yard")])
def show_first(request: Request, store: StoreDep) -> Response:
    if has_lead(store) or find_laptop(request) is None:
        return RedirectResponse("/", status_code=303)
    return page(request, "laptop/first.html", title=phrase("The server is on"))


@router.post("/laptop/first", dependencies=[allow("begin_yard")])
def begin(_laptop: LaptopDep, store: StoreDep, now: NowDep) -> Response:
    """Whoever sits at the laptop becomes the yard lead, as with the link that a terminal shows.

    `_laptop` is there to refuse everybody else.
    """
    token = make_first_link(store, role="yard_lead", now=now)
    if token is None:
        raise NotSignedIn(phrase("there is a yard lead already"), "", phrase("sign in"))
    return RedirectResponse(f"/welcome/{token}", status_code=303)
