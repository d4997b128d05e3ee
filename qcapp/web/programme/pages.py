"""The programme lead's page: the yards of a programme, each in a few counts."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.i18n.phrase import phrase
from qcapp.usecases.load_programme import SILENT_DAYS, load_programme_lines
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)


@router.get("/", dependencies=[allow("see_programme")])
def show_programme(
    request: Request, store: StoreDep, settings: SettingsDep, now: NowDep
) -> Response:
    """The app's state has `yards`: {address: (name, store)}."""
    lines = load_programme_lines(store, request.app.state.yards, settings.min_count, now)
    return page(
        request,
        "programme/programme.html",
        title=phrase("Yards"),
        lines=lines,
        silent_days=SILENT_DAYS,
        min_count=settings.min_count,
    )
