"""The trainer's pages: what to teach next, step by artisan, one artisan, faults, lessons."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from qcapp.charts.curve import CurvePoint, RunMark, draw_curve
from qcapp.charts.frame import percent
from qcapp.charts.pareto import Bar, draw_pareto
from qcapp.charts.rates import RateMark, draw_rates
from qcapp.documents.table_files import write_csv, write_xlsx
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.reports.apprentice import ArtisanStep
from qcapp.reports.artisans import StepTable
from qcapp.reports.faults import StepFaults
from qcapp.reports.teach import MIN_WORTH_TEACHING, NAMED, SEVERITY_WEIGHT, TeachRow
from qcapp.store.queries import artisan_queries
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.load_trainer import (
    TrainerFigures,
    describe_apprentices,
    load_artisan,
    load_figures,
)
from qcapp.web.deps import DrawingsDep, NowDep, SettingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.part_map import draw_part_map
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.trainer.filters import FiltersDep, build_query
from qcapp.web.trainer.tables import TABLES, build_table

router = APIRouter(include_in_schema=False)
SHAPES = {"above": "cornered", "too few": "hollow"}


def _page(request: Request, template: str, figures: TrainerFigures, **values):
    shared = {"figures": figures, "filters": figures.filters, "query": build_query(figures.filters)}
    return page(request, template, **shared, **values)


@router.get("/trainer", dependencies=[allow("see_figures")])
def show_teach(
    request: Request,
    store: StoreDep,
    settings: SettingsDep,
    filters: FiltersDep,
    drawings: DrawingsDep,
    now: NowDep,
):
    figures = load_figures(store, settings, filters)
    maps = [
        (as_localized(checklist.title), _draw_map(figures, checklist, drawings))
        for checklist in figures.checklists
        if _is_seen(figures, checklist)
    ]
    return _page(
        request,
        "trainer/teach.html",
        figures,
        title=phrase("What to teach next"),
        groups=_group_rows(figures.teach_rows),
        maps=maps,
        rule=describe_apprentices(figures, now),
        weights=SEVERITY_WEIGHT,
        least=MIN_WORTH_TEACHING,
    )


def _group_rows(rows: list[TeachRow]) -> list[tuple[str, list[TeachRow]]]:
    """By strength of evidence; the first group also stands empty, since that is an answer."""
    groups = [
        (phrase("Teach next"), [row for row in rows if row.strength in NAMED]),
        (phrase("Worth watching"), [row for row in rows if row.strength == "weak"]),
        (
            phrase("No difference shown"),
            [row for row in rows if row.strength in ("chance", "better")],
        ),
        (phrase("Too few stoves to tell"), [row for row in rows if row.strength == "too few"]),
    ]
    return [group for place, group in enumerate(groups) if group[1] or (rows and place == 0)]


def _is_seen(figures: TrainerFigures, checklist) -> bool:
    stage = figures.filters.stage or "finished"
    return checklist.stage == stage and any(figures.parts.get(part.id) for part in checklist.parts)


def _draw_map(figures: TrainerFigures, checklist, drawings) -> str:
    shares, counts = {}, []
    for part in checklist.parts:
        inspected, failed = figures.parts.get(part.id, (0, 0))
        if inspected:
            shares[part.id] = percent(failed / inspected) if failed else ""
            counts.append(
                phrase(
                    "%(part)s %(failed)s of %(inspected)s",
                    part=text_of(part.title),
                    failed=failed,
                    inspected=inspected,
                )
            )
    return draw_part_map(
        drawings[checklist.drawing], shares, counts, title=phrase("Stoves with a fault, by part")
    )


@router.get("/trainer/steps", dependencies=[allow("see_figures")])
def show_steps(request: Request, store: StoreDep, settings: SettingsDep, filters: FiltersDep):
    figures = load_figures(store, settings, filters)
    charts = [(table, _draw_step(table)) for table in figures.step_tables]
    return _page(
        request, "trainer/steps.html", figures, title=phrase("Step by artisan"), charts=charts
    )


def _draw_step(table: StepTable):
    marks = [
        RateMark(
            f"{row.name} ({row.artisan})",
            row.failed,
            row.inspected,
            row.rate,
            row.low,
            row.high,
            SHAPES.get(row.mark, "round"),
        )
        for row in table.rows
    ]
    return draw_rates(
        marks,
        mean=table.mean,
        title=table.title,
        name=f"step-{table.step}",
        locale=get_active_locale(),
    )


@router.get("/trainer/artisans/{code}", dependencies=[allow("see_figures")])
def show_artisan(
    request: Request, code: str, store: StoreDep, settings: SettingsDep, filters: FiltersDep
):
    figures = load_figures(store, settings, filters)
    if code not in figures.people:
        raise NotFound(
            phrase("there is no such artisan"), code, phrase("see the names under step by artisan")
        )
    report = load_artisan(store, figures, code)
    with store.reading() as connection:
        photos = artisan_queries.list_fault_photos(
            connection, code, [step.step for step in report.steps], since=figures.counted.since
        )
    charts = [(step, _draw_curve(step)) for step in report.steps]
    paretos = [(step, _draw_faults(step)) for step in report.faults]
    return _page(
        request,
        "trainer/artisan.html",
        figures,
        title=report.name,
        report=report,
        charts=charts,
        paretos=paretos,
        photos=photos,
    )


def _draw_curve(step: ArtisanStep):
    band = step.experienced.interval
    return draw_curve(
        [RunMark(run.first, run.last, run.rate.failed, run.rate.inspected) for run in step.runs],
        [
            CurvePoint(point.made_before, point.rate.value, point.rate.low, point.rate.high)
            for point in step.curve
        ],
        experienced=(band.low, band.high) if band else None,
        title=phrase("%(step)s: rate against stoves made", step=step.title),
        name=f"curve-{step.step}",
        locale=get_active_locale(),
    )


def _draw_faults(step: StepFaults):
    bars = [Bar(row.title, row.failed, row.running) for row in step.rows[:8]]
    return draw_pareto(
        bars, title=step.title, name=f"faults-{step.step}", locale=get_active_locale()
    )


@router.get("/trainer/faults", dependencies=[allow("see_figures")])
def show_faults(request: Request, store: StoreDep, settings: SettingsDep, filters: FiltersDep):
    figures = load_figures(store, settings, filters)
    charts = [(step, _draw_faults(step)) for step in figures.step_faults]
    return _page(
        request, "trainer/faults.html", figures, title=phrase("What goes wrong"), charts=charts
    )


@router.get("/trainer/lessons", dependencies=[allow("see_figures")])
def show_lessons(
    request: Request, store: StoreDep, settings: SettingsDep, filters: FiltersDep, now: NowDep
):
    figures = load_figures(store, settings, filters)
    return _page(
        request,
        "trainer/lessons.html",
        figures,
        title=phrase("Lessons"),
        today=now.date().isoformat(),
    )


@router.post("/trainer/lessons", dependencies=[allow("hold_lessons", "lesson_recorded")])
def add_lesson(
    store: StoreDep,
    settings: SettingsDep,
    filters: FiltersDep,
    now: NowDep,
    caller: CallerDep,
    held_on: Annotated[date, Form()],
    step: Annotated[str, Form()],
    people: Annotated[list[str], Form(min_length=1)],
    note: Annotated[str, Form(max_length=500)] = "",
):
    figures = load_figures(store, settings, filters)
    strangers = [code for code in people if code not in figures.people]
    if step not in figures.steps or strangers:
        raise BadInput(
            phrase("no such step or artisan"),
            ", ".join([step, *strangers]),
            phrase("choose from the lists"),
        )
    if held_on > now.date():
        raise BadInput(
            phrase("the lesson is in the future"), "held_on", phrase("record it after it was held")
        )
    body = {
        "held_on": held_on.isoformat(),
        "step": step,
        "people": sorted(set(people)),
        "note": note.strip(),
    }
    record_server_event(store, kind="lesson", recorder=caller.code, body=body, now=now)
    return RedirectResponse("/trainer/lessons", status_code=303)


@router.post(
    "/trainer/lessons/{lesson_id}/withdraw",
    dependencies=[allow("hold_lessons", "lesson_withdrawn")],
)
def withdraw_lesson(
    lesson_id: str,
    store: StoreDep,
    settings: SettingsDep,
    filters: FiltersDep,
    now: NowDep,
    caller: CallerDep,
):
    figures = load_figures(store, settings, filters)
    if lesson_id not in {lesson.id for lesson in figures.lessons}:
        raise NotFound(
            phrase("there is no such lesson"), lesson_id, phrase("reload the list of lessons")
        )
    record_server_event(
        store, kind="lesson", recorder=caller.code, body={"withdraws": lesson_id}, now=now
    )
    return RedirectResponse("/trainer/lessons", status_code=303)


@router.get("/trainer/tables/{name}.csv", dependencies=[allow("see_figures")])
def get_csv(name: str, store: StoreDep, settings: SettingsDep, filters: FiltersDep):
    table = build_table(load_figures(store, settings, filters), name)
    return _file(write_csv(table), "text/csv; charset=utf-8", f"{name}.csv")


@router.get("/trainer/tables.xlsx", dependencies=[allow("see_figures")])
def get_xlsx(store: StoreDep, settings: SettingsDep, filters: FiltersDep):
    figures = load_figures(store, settings, filters)
    content = write_xlsx(build_table(figures, name) for name in TABLES)
    return _file(
        content, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "trainer.xlsx"
    )


def _file(content: bytes, kind: str, name: str) -> Response:
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "X-Content-Type-Options": "nosniff",
    }
    return Response(content, media_type=kind, headers=headers)
