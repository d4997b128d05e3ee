"""The trainer's pages about drift: what moved and since when, one row's charts, templates."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.charts.control import draw_control
from qcapp.checklist.history import Criteria, StepRef
from qcapp.checklist.model import Check, Step
from qcapp.errors import NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.reports.control import count_rules, list_pass_charts, list_reading_charts
from qcapp.reports.drift import STOVES_PER_FALSE_SIGNAL, PassRow, ReadingRow
from qcapp.reports.series import Group
from qcapp.usecases.load_measuring import Measuring, load_measuring
from qcapp.usecases.note_template import note_replacement, note_template, withdraw_note
from qcapp.web.deps import NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.middleware.authorisation import AccountDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
DRIFT = "/trainer/drift"


@router.get(DRIFT, dependencies=[allow("see_drift")])
def show_drift(request: Request, store: StoreDep, settings: SettingsDep, now: NowDep) -> Response:
    measuring = load_measuring(store, settings)
    return page(
        request,
        "trainer/drift.html",
        title=phrase("Is production drifting?"),
        measuring=measuring,
        report=measuring.drift,
        cards=_group_signals(measuring),
        lessons=_list_lessons(measuring),
        address=address_of,
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
    )


def _group_signals(
    measuring: Measuring,
) -> list[tuple[StepRef, str, list[ReadingRow | PassRow]]]:
    """(step of a checklist, its title, rows with a signal): templates before artisans, so that the
    shared cause is read first.
    """
    by_step: dict[StepRef, list[ReadingRow | PassRow]] = {}
    for row in measuring.drift.signals:
        by_step.setdefault(step_of(row), []).append(row)
    return [
        (step, as_localized(measuring.history.steps[step].title), sorted(rows, key=_rank))
        for step, rows in by_step.items()
    ]


def _list_lessons(measuring: Measuring) -> dict[str, list[tuple[str, str]]]:
    """{step: (day, who was taught)}: what may be why a row moved."""
    found: dict[str, list[tuple[str, str]]] = {}
    for lesson in sorted(measuring.lessons, key=lambda one: one.held_on):
        names = (measuring.people.get(code, {}).get("name", code) for code in lesson.people)
        found.setdefault(lesson.step, []).append((lesson.held_on, ", ".join(names)))
    return found


def _rank(row: ReadingRow | PassRow) -> tuple[bool, bool, str]:
    seen_at = row.signal.seen[1] if row.signal else ""
    return (group_of(row).kind == "artisan", isinstance(row, PassRow), seen_at)


def group_of(row: ReadingRow | PassRow) -> Group:
    return row.series.group if isinstance(row, ReadingRow) else row.passes.group


def step_of(row: ReadingRow | PassRow) -> StepRef:
    if isinstance(row, ReadingRow):
        return StepRef(row.series.criteria.checklist, row.series.check.step)
    return StepRef(row.passes.criteria.checklist, row.passes.step.id)


def criteria_of(row: ReadingRow | PassRow) -> Criteria[Check] | Criteria[Step]:
    return row.series.criteria if isinstance(row, ReadingRow) else row.passes.criteria


def address_of(row: ReadingRow | PassRow) -> str:
    """The page of one row's charts."""
    is_reading, criteria, group = isinstance(row, ReadingRow), criteria_of(row), group_of(row)
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
    return page(
        request,
        "trainer/drift_row.html",
        title=title_of(row),
        row=row,
        is_reading=is_reading,
        measuring=measuring,
        group=group_of(row),
        criteria=criteria_of(row),
        step=step_of(row).step,
        report=measuring.drift,
        charts=[
            draw_control(chart, name=f"control-{at}", locale=get_active_locale())
            for at, chart in enumerate(charts)
        ],
        rules=count_rules(row) if isinstance(row, ReadingRow) else [],
        per_false_signal=STOVES_PER_FALSE_SIGNAL,
        today=now.date().isoformat(),
    )


def _find_row(measuring: Measuring, address: RowAddress) -> ReadingRow | PassRow:
    """Raises NotFound."""
    rows: list[ReadingRow | PassRow] = [*measuring.drift.readings, *measuring.drift.passes]
    row = next((row for row in rows if address_of(row) == str(address)), None)
    if row is None:
        raise NotFound(
            phrase("there is no such row of stoves"),
            f"{address.checklist} {address.name} {address.group}",
            phrase("see the list of rows under Drift"),
        )
    return row


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
