"""The trainer's pages about drift: what moved and since when, one row's charts, templates."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.charts.control import draw_control
from qcapp.charts.frame import Chart
from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.inspection.gauges import Gauge
from qcapp.reports.drift import STOVES_PER_FALSE_SIGNAL, DriftRow
from qcapp.reports.drift_causes import Cause, find_causes
from qcapp.reports.gauge_chart import say_error
from qcapp.reports.pass_charts import list_pass_charts
from qcapp.reports.reading_charts import count_rules, list_reading_charts
from qcapp.reports.reading_drift import ReadingRow
from qcapp.reports.run_chart import build_run_chart, name_row, name_what
from qcapp.usecases.keep_gauges import GaugeView, load_gauges
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.usecases.note_template import note_replacement, note_template, withdraw_note
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow
from qcapp.web.trainer.gauges import draw_checks

router = APIRouter(include_in_schema=False)
DRIFT = "/trainer/drift"


@router.get(DRIFT, dependencies=[allow("see_drift")])
def show_drift(request: Request, store: StoreDep, settings: SettingsDep, now: NowDep) -> Response:
    measuring = load_measuring(store, settings)
    gauges = load_gauges(store)
    return page(
        request,
        "trainer/drift.html",
        title=phrase("Is production drifting?"),
        measuring=measuring,
        report=measuring.drift,
        cards=[
            _make_card(measuring, gauges, cause, place)
            for place, cause in enumerate(find_causes(measuring.drift))
        ],
        name_what=name_what,
        name_row=name_row,
        address=address_of,
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
        gauges=gauges,
        now_day=now.date(),
        say_error=say_error,
    )


@dataclass(frozen=True)
class Card:
    """One cause with the run chart of its first row. lessons: (day, who of these people, was it
    before the row began to move, during that until it was seen, or after); gauges: templates and
    gauges of the work, with their checks.
    """

    cause: Cause
    chart: Chart
    lessons: list[tuple[str, str, str]]
    gauges: list[Gauge]


def _make_card(measuring: Measuring, gauges: GaugeView, cause: Cause, place: int) -> Card:
    chart = draw_control(
        build_run_chart(cause.head), name=f"cause-{place}", locale=get_active_locale()
    )
    return Card(cause, chart, list_lessons(measuring, cause), _list_beside(gauges, cause.head))


def _list_beside(gauges: GaugeView, row: DriftRow) -> list[Gauge]:
    """Those with which the row's stoves were made."""
    own = gauges.list_of_template(row.group.id) if row.group.kind == "template" else []
    return own or gauges.list_of(row.step.step, row.group.artisans)


def list_lessons(measuring: Measuring, cause: Cause) -> list[tuple[str, str, str]]:
    """Lessons on this work that one of these people was at: what may be why a row moved."""
    found = []
    signal = cause.head.signal
    began, seen = (place[1][:10] for place in (signal.began, signal.seen)) if signal else ("", "")
    for lesson in sorted(measuring.lessons, key=lambda one: one.held_on):
        taught = [code for code in lesson.people if code in cause.head.group.artisans]
        if lesson.step == cause.head.step.step and taught:
            names = (measuring.people.get(code, {}).get("name", code) for code in taught)
            when = "before" if lesson.held_on <= began else "during"
            when = when if lesson.held_on <= seen else "after"
            found.append((lesson.held_on, ", ".join(names), when))
    return found


def address_of(row: DriftRow) -> str:
    """The page of one row's charts."""
    is_reading, criteria, group = isinstance(row, ReadingRow), row.criteria, row.group
    return str(
        RowAddress(
            of="checks" if is_reading else "steps",
            checklist=criteria.checklist,
            name=criteria.judged.id,
            kind=group.kind,
            group=group.id,
            size=(row.series.size or "") if isinstance(row, ReadingRow) else "",
            judged_by="" if criteria.is_current else criteria.key,
        )
    )


@dataclass(frozen=True)
class RowAddress:
    """The part of an address that names a row. of: checks or steps; kind, group: whose row it
    is; judged_by: key of earlier limits, "" for those in force.
    """

    of: str
    checklist: str
    name: str
    kind: str
    group: str
    size: str = ""
    judged_by: str = ""

    def __str__(self) -> str:
        asked = {"size": self.size, "judged_by": self.judged_by}
        query = urlencode({key: value for key, value in asked.items() if value})
        path = f"{DRIFT}/{self.of}/{self.checklist}/{self.name}/{self.kind}/{self.group}"
        return f"{path}?{query}" if query else path


@router.get(DRIFT + "/{of}/{checklist}/{name}/{kind}/{group}", dependencies=[allow("see_drift")])
def show_row(
    request: Request,
    address: Annotated[RowAddress, Depends(RowAddress)],
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
) -> Response:
    measuring = load_measuring(store, settings)
    row = _find_row(measuring, address)
    is_reading = isinstance(row, ReadingRow)
    charts = list_reading_charts(row) if isinstance(row, ReadingRow) else list_pass_charts(row)
    run_chart, *others = [
        draw_control(chart, name=f"control-{at}", locale=get_active_locale())
        for at, chart in enumerate([build_run_chart(row), *charts])
    ]
    beside = _list_beside(load_gauges(store), row)
    return page(
        request,
        "trainer/drift_row.html",
        title=name_row(row),
        row=row,
        is_reading=is_reading,
        measuring=measuring,
        group=row.group,
        criteria=row.criteria,
        step=row.step.step,
        report=measuring.drift,
        run_chart=run_chart,
        charts=others,
        rules=count_rules(row) if isinstance(row, ReadingRow) else [],
        gauges=list(zip(beside, draw_checks(beside), strict=True)),
        now_day=now.date(),
        say_error=say_error,
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
    )


def _find_row(measuring: Measuring, address: RowAddress) -> DriftRow:
    """Raises NotFound."""
    row = next((row for row in measuring.drift.rows if address_of(row) == str(address)), None)
    if row is None:
        raise NotFound(
            phrase("there is no such row of stoves"),
            f"{address.checklist} {address.name} {address.group}",
            phrase("see the list of rows under Drift"),
        )
    return row


class TemplateForm(BaseModel):
    step: str
    name: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    artisans: Annotated[list[str], Field(min_length=1)]


class ReplacementForm(BaseModel):
    step: str
    artisans: Annotated[list[str], Field(min_length=1)]
    on: date
    note: Annotated[str, StringConstraints(max_length=500)] = ""


@router.post("/trainer/templates", dependencies=[allow("note_templates", "template_noted")])
def add_template(
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[TemplateForm, Form()],
) -> Response:
    values = {**form.model_dump(), "name": form.name.strip() or "Template"}
    note_template(store, settings, **values, by=by, now=now)
    return RedirectResponse(DRIFT, status_code=303)


@router.post(
    "/trainer/templates/replaced",
    dependencies=[allow("note_templates", "template_replacement_noted")],
)
def add_replacement(
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    by: AccountDep,
    form: Annotated[ReplacementForm, Form()],
) -> Response:
    values = {**form.model_dump(), "note": form.note.strip()}
    note_replacement(store, settings, **values, by=by, now=now)
    return RedirectResponse(DRIFT, status_code=303)


@router.post(
    "/trainer/templates/{event_id}/withdraw",
    dependencies=[allow("note_templates", "template_note_withdrawn")],
)
def withdraw(
    event_id: str, store: StoreDep, settings: SettingsDep, now: NowDep, by: AccountDep
) -> Response:
    withdraw_note(store, settings, event_id, by=by, now=now)
    return RedirectResponse(DRIFT, status_code=303)
