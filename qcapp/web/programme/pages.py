"""The programme lead's page: the yards of a programme, like compared with like."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from qcapp.documents.table_files import write_csv
from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.usecases.load_programme import ProgrammeView, load_programme
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.programme.comparison_view import list_table, view_comparison
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
MAX_KEY = 120
# Months before are another yard: people and tools have changed.
PERIODS = (30, 90, 365)
DaysQuery = Annotated[int, Query(ge=1, le=365)]


def get_view(
    request: Request,
    *,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    of: Annotated[str, Query(max_length=MAX_KEY)] = "",
    days: DaysQuery = 365,
) -> ProgrammeView:
    """The app's state has `yards`: {address: (name, store)}. of: a group's key."""
    yards = request.app.state.yards
    return load_programme(store, yards, days=days, key=of, min_count=settings.min_count, now=now)


ViewDep = Annotated[ProgrammeView, Depends(get_view)]


@router.get("/", dependencies=[allow("see_programme")])
def show_programme(
    request: Request, view: ViewDep, settings: SettingsDep, days: DaysQuery = 365
) -> Response:
    told = (
        view_comparison(view.comparison, min_count=settings.min_count, locale=get_active_locale())
        if view.comparison
        else None
    )
    return page(
        request,
        "programme/programme.html",
        title=phrase("Yards"),
        view=view,
        told=told,
        days=days,
        periods=PERIODS,
        min_count=settings.min_count,
    )


@router.get("/yards.csv", dependencies=[allow("see_programme")])
def get_figures(view: ViewDep) -> Response:
    """Of the group that the page shows. Raises NotFound when there is none."""
    if view.chosen is None or view.comparison is None:
        raise NotFound(phrase("there is nothing to compare"), "", phrase("choose a longer period"))
    checklist = view.chosen.checklist
    name = f"yards-{checklist.id}-{checklist.revision}-{view.chosen.size}.csv"
    return Response(
        write_csv(list_table(view.comparison, checklist.id, checklist.revision)),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
