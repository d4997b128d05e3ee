"""The trainer's pages about drift: what moved and since when, one row's charts, templates."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse

from qcapp.charts.control import draw_control
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.reports.control import count_rules, list_pass_charts, list_reading_charts
from qcapp.reports.drift import STOVES_PER_FALSE_SIGNAL, PassRow, ReadingRow
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
DRIFT = "/trainer/drift"


@router.get(DRIFT, dependencies=[allow("see_drift")])
def show_drift(request: Request, store: StoreDep, settings: SettingsDep, now: NowDep):
    measuring = load_measuring(store, settings)
    return page(
        request,
        "trainer/drift.html",
        title=phrase("Is the making drifting"),
        measuring=measuring,
        report=measuring.drift,
        cards=_group_signals(measuring),
        address=address_of,
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
    )


def _group_signals(measuring: Measuring) -> list[tuple[str, str, list[ReadingRow | PassRow]]]:
    """(step id, its title, rows with a signal): templates before artisans, so the shared cause is read first."""
    by_step: dict[str, list] = {}
    for row in measuring.drift.signals:
        by_step.setdefault(step_of(row), []).append(row)
    return [
        (step, as_localized(measuring.steps[step].title), sorted(rows, key=_rank))
        for step, rows in by_step.items()
    ]


def _rank(row: ReadingRow | PassRow) -> tuple:
    group = row.series.group if isinstance(row, ReadingRow) else row.passes.group
    return (group.kind == "artisan", isinstance(row, PassRow), row.signal.seen[1])


def step_of(row: ReadingRow | PassRow) -> str:
    return row.series.check.step if isinstance(row, ReadingRow) else row.passes.step.id


def address_of(row: ReadingRow | PassRow) -> str:
    """The page of one row's charts."""
    if isinstance(row, PassRow):
        return f"{DRIFT}/steps/{row.passes.step.id}/{row.passes.group.kind}/{row.passes.group.id}"
    size = f"?size={row.series.size}" if row.series.size else ""
    return (
        f"{DRIFT}/checks/{row.series.check.id}/{row.series.group.kind}/{row.series.group.id}{size}"
    )


@router.get(DRIFT + "/{of}/{name}/{kind}/{group}", dependencies=[allow("see_drift")])
def show_row(
    request: Request,
    of: str,
    name: str,
    kind: str,
    group: str,
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    size: str = "",
):
    measuring = load_measuring(store, settings)
    wanted = f"{DRIFT}/{of}/{name}/{kind}/{group}" + (f"?size={size}" if size else "")
    row = next(
        (
            row
            for row in (*measuring.drift.readings, *measuring.drift.passes)
            if address_of(row) == wanted
        ),
        None,
    )
    if row is None:
        raise NotFound(
            phrase("there is no such row of stoves"),
            f"{name} {group}",
            phrase("see the list of rows under drift"),
        )
    is_reading = isinstance(row, ReadingRow)
    charts = list_reading_charts(row) if is_reading else list_pass_charts(row)
    return page(
        request,
        "trainer/drift_row.html",
        title=title_of(row),
        row=row,
        is_reading=is_reading,
        measuring=measuring,
        group=row.series.group if is_reading else row.passes.group,
        step=step_of(row),
        report=measuring.drift,
        charts=[
            draw_control(chart, name=f"control-{at}", locale=get_active_locale())
            for at, chart in enumerate(charts)
        ],
        rules=count_rules(row) if is_reading else [],
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
    )


def title_of(row: ReadingRow | PassRow) -> str:
    if isinstance(row, PassRow):
        return phrase(
            "%(what)s: %(who)s", what=text_of(row.passes.step.title), who=row.passes.group.title
        )
    what = (
        (text_of(row.series.check.ask), name_size(row.series.size))
        if row.series.size
        else text_of(row.series.check.ask)
    )
    return phrase("%(what)s: %(who)s", what=what, who=row.series.group.title)


@router.post("/trainer/templates", dependencies=[allow("note_templates", "template_noted")])
def add_template(
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    caller: CallerDep,
    step: Annotated[str, Form()],
    name: Annotated[str, Form(min_length=1, max_length=60)],
    artisans: Annotated[list[str], Form(min_length=1)],
):
    measuring = load_measuring(store, settings)
    _check_who(measuring, step, artisans)
    body = {"step": step, "name": name.strip() or "Template", "artisans": sorted(set(artisans))}
    record_server_event(store, kind="template", recorder=caller.code, body=body, now=now)
    return RedirectResponse(DRIFT, status_code=303)


@router.post(
    "/trainer/templates/replaced",
    dependencies=[allow("note_templates", "template_replacement_noted")],
)
def add_replacement(
    store: StoreDep,
    settings: SettingsDep,
    now: NowDep,
    caller: CallerDep,
    step: Annotated[str, Form()],
    artisans: Annotated[list[str], Form(min_length=1)],
    on: Annotated[date, Form()],
    note: Annotated[str, Form(max_length=500)] = "",
):
    _check_who(load_measuring(store, settings), step, artisans)
    if on > now.date():
        raise BadInput(
            phrase("the day is in the future"), "on", phrase("record it when it has happened")
        )
    body = {
        "step": step,
        "artisans": sorted(set(artisans)),
        "on": on.isoformat(),
        "note": note.strip(),
    }
    record_server_event(store, kind="template_replaced", recorder=caller.code, body=body, now=now)
    return RedirectResponse(DRIFT, status_code=303)


@router.post(
    "/trainer/templates/{event_id}/withdraw",
    dependencies=[allow("note_templates", "template_note_withdrawn")],
)
def withdraw(event_id: str, store: StoreDep, settings: SettingsDep, now: NowDep, caller: CallerDep):
    measuring = load_measuring(store, settings)
    kinds = {one.id: "template" for one in measuring.templates} | {
        one.id: "template_replaced" for one in measuring.replacements
    }
    if event_id not in kinds:
        raise NotFound(
            phrase("there is no such record"), event_id, phrase("reload the page about drift")
        )
    record_server_event(
        store, kind=kinds[event_id], recorder=caller.code, body={"withdraws": event_id}, now=now
    )
    return RedirectResponse(DRIFT, status_code=303)


def _check_who(measuring: Measuring, step: str, artisans: list[str]) -> None:
    strangers = [code for code in artisans if code not in measuring.people]
    if step not in measuring.steps or strangers:
        raise BadInput(
            phrase("no such step or artisan"),
            ", ".join([step, *strangers]),
            phrase("choose from the lists"),
        )
