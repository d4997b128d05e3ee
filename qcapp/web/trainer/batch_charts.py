"""The trainer's page of control charts: batch by batch, by checklist and size."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.charts.control import draw_control
from qcapp.charts.frame import Chart
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.batch_series import BatchSeries, chart_batches
from qcapp.usecases.load_batch_series import load_batch_series
from qcapp.web.deps import StoreDep
from qcapp.web.layout.page import page
from qcapp.web.rules import allow

router = APIRouter(prefix="/trainer/batches", include_in_schema=False)


@router.get("", dependencies=[allow("see_figures")])
def show_batch_charts(request: Request, store: StoreDep) -> Response:
    found = load_batch_series(store)
    return page(
        request,
        "trainer/batches.html",
        title=phrase("Batch by batch"),
        series=[(one, _draw(one, place)) for place, one in enumerate(found.series)],
        alone=found.alone,
    )


def _draw(series: BatchSeries, place: int) -> list[Chart]:
    return [
        draw_control(row, name=f"batches-{place}-{at}", locale=get_active_locale())
        for at, row in enumerate(chart_batches(series.points))
    ]
