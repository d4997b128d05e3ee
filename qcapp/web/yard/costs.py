"""The yard lead's page of what faults cost, by the yard's own figures."""

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.charts.costs import CostBar, draw_costs
from qcapp.charts.frame import Chart
from qcapp.checklist.history import StepRef
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.reports.costs import MISSING, CostReport
from qcapp.usecases.reckon_costs import CostForm, enter_cost, find_step, load_costs, propose_cost
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/yard/costs", include_in_schema=False)
MAX_BARS = 8


@router.get("", dependencies=[allow("reckon_costs")])
def show_costs(
    request: Request, store: StoreDep, batch: Annotated[str | None, Query(max_length=100)] = None
) -> Response:
    found = load_costs(store, batch or None)
    return yard_page(
        request,
        store,
        "yard/costs.html",
        title=phrase("What faults cost"),
        found=found,
        report=found.report,
        inputs=MISSING,
        charts=list_charts(found.report),
    )


def list_charts(report: CostReport) -> list[Chart]:
    """One for each currency."""
    charts = []
    for place, (currency, total) in enumerate(report.money.items()):
        bars = [
            CostBar(text_of(row.step.title), row.faults, row.money)
            for row in report.rows
            if row.cost and row.cost.currency == currency and row.money
        ]
        if bars:
            charts.append(
                draw_costs(
                    bars[:MAX_BARS],
                    total=total,
                    currency=currency,
                    name=f"costs-{place}",
                    locale=get_active_locale(),
                )
            )
    return charts


PlaceDep = Annotated[StepRef, Depends(StepRef)]


@router.get("/{checklist}/{step}", dependencies=[allow("reckon_costs")])
def show_cost(request: Request, place: PlaceDep, store: StoreDep) -> Response:
    form = propose_cost(store, place)
    return _cost_page(request, place, store, form)


@router.post("/{checklist}/{step}", dependencies=[allow("reckon_costs", "fault_cost_entered")])
def change_cost(
    request: Request,
    place: PlaceDep,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[CostForm, Form()],
) -> Response:
    enter_cost(store, place, form, by=by, now=now)
    if form.wrong:
        return _cost_page(request, place, store, form)
    request.state.about = {"step": place.step}
    return RedirectResponse("/yard/costs", status_code=303)


def _cost_page(request: Request, place: StepRef, store: StoreDep, form: CostForm) -> Response:
    title = as_localized(find_step(store, place).title)
    return yard_page(
        request,
        store,
        "yard/cost.html",
        form,
        title=phrase("What one fault costs: %(step)s", step=title),
        place=place,
    )
