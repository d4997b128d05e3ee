"""The register of templates and gauges: which are due, one with its last checks, changes."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.charts.control import draw_control
from qcapp.charts.frame import Chart
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.gauges import EARLY_SHARE, Gauge
from qcapp.reports.gauge_chart import build_gauge_chart, say_error, say_state
from qcapp.usecases.keep_gauges import (
    STEP,
    TOOL,
    GaugeForm,
    GaugeView,
    fill_form,
    load_gauges,
    note_gauge,
    void_check,
    withdraw_gauge,
)
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/trainer/gauges", include_in_schema=False)
GAUGES = "/trainer/gauges"


@router.get("", dependencies=[allow("see_drift")])
def show_gauges(
    request: Request,
    store: StoreDep,
    now: NowDep,
    template: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    """template: id of the record of a template that the form starts with."""
    view = load_gauges(store)
    named = view.templates.get(template)
    form = GaugeForm()
    if named:
        form = GaugeForm(name=named.name, use=f"{STEP}{named.step}", template=named.id)
    return _register_page(request, view, form, now.date(), is_open=named is not None)


@router.post("", dependencies=[allow("note_templates", "gauge_noted")])
def add_gauge(
    request: Request,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[GaugeForm, Form()],
) -> Response:
    made = note_gauge(store, form, gauge=None, by=by, now=now)
    if made is None:
        return _register_page(request, load_gauges(store), form, now.date(), is_open=True)
    return RedirectResponse(f"{GAUGES}/{made}", status_code=303)


def _register_page(
    request: Request, view: GaugeView, form: GaugeForm, today: date, *, is_open: bool
) -> Response:
    answer = page(
        request,
        "trainer/gauges.html",
        title=phrase("Templates and gauges"),
        view=view,
        due=view.list_due(today),
        form=form,
        today=today,
        is_open=is_open,
        say_error=say_error,
        step_prefix=STEP,
        tool_prefix=TOOL,
    )
    answer.status_code = 400 if form.wrong else 200
    return answer


@router.get("/{gauge_id}", dependencies=[allow("see_drift")])
def show_gauge(request: Request, gauge_id: str, store: StoreDep, now: NowDep) -> Response:
    view = load_gauges(store)
    return _gauge_page(request, view, view.find(gauge_id), None, now.date())


@router.post("/{gauge_id}", dependencies=[allow("note_templates", "gauge_noted")])
def change_gauge(
    request: Request,
    gauge_id: str,
    store: StoreDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[GaugeForm, Form()],
) -> Response:
    if note_gauge(store, form, gauge=gauge_id, by=by, now=now) is None:
        view = load_gauges(store)
        return _gauge_page(request, view, view.find(gauge_id), form, now.date())
    return RedirectResponse(f"{GAUGES}/{gauge_id}", status_code=303)


@router.post("/{gauge_id}/remove", dependencies=[allow("note_templates", "gauge_withdrawn")])
def remove_gauge(gauge_id: str, store: StoreDep, now: NowDep, by: AccountDep) -> Response:
    withdraw_gauge(store, gauge_id, by=by, now=now)
    return RedirectResponse(GAUGES, status_code=303)


@router.post(
    "/{gauge_id}/checks/{check_id}/void",
    dependencies=[allow("note_templates", "gauge_withdrawn")],
)
def void_gauge_check(
    gauge_id: str, check_id: str, store: StoreDep, now: NowDep, by: AccountDep
) -> Response:
    void_check(store, gauge_id, check_id, by=by, now=now)
    return RedirectResponse(f"{GAUGES}/{gauge_id}", status_code=303)


def _gauge_page(
    request: Request, view: GaugeView, gauge: Gauge, form: GaugeForm | None, today: date
) -> Response:
    """form: one that was refused; None for what is known."""
    shown = form or fill_form(gauge)
    answer = page(
        request,
        "trainer/gauge.html",
        title=gauge.terms.name,
        view=view,
        gauge=gauge,
        chart=draw_checks([gauge])[0],
        form=shown,
        today=today,
        say_error=say_error,
        early_percent=int(EARLY_SHARE * 100),
        step_prefix=STEP,
        tool_prefix=TOOL,
        store_state=say_state(gauge),
    )
    answer.status_code = 400 if shown.wrong else 200
    return answer


def draw_checks(gauges: Sequence[Gauge]) -> list[Chart | None]:
    """The run chart of each one's last checks; None where there are none."""
    rows = [build_gauge_chart(gauge) for gauge in gauges]
    return [
        draw_control(row, name=f"gauge-{place}", locale=get_active_locale()) if row else None
        for place, row in enumerate(rows)
    ]
