"""The trainer's pages: one artisan, inspectors, faults, tables."""

from dataclasses import replace

from fastapi import APIRouter, Request
from fastapi.responses import Response

from qcapp.checklist.history import StepRef
from qcapp.documents.table_files import XLSX, write_csv, write_xlsx
from qcapp.i18n.phrase import phrase
from qcapp.reports.groups import build_rate
from qcapp.reports.uneven_looks import UnevenStep
from qcapp.stats.misclassification import FEWEST
from qcapp.usecases.load_artisan import list_fault_photos, load_artisan
from qcapp.usecases.load_inspectors import load_inspectors, load_uneven_steps
from qcapp.usecases.load_step import list_photos_by_step
from qcapp.usecases.note_hours import load_hours
from qcapp.usecases.yard_state import read_yard_name
from qcapp.web.deps import StoreDep
from qcapp.web.layout.file_names import name_file
from qcapp.web.layout.page import page
from qcapp.web.rules import allow
from qcapp.web.trainer.charts import draw_faults, draw_learning
from qcapp.web.trainer.figures import FiguresDep, figures_page
from qcapp.web.trainer.tables import TABLES, build_table

router = APIRouter(prefix="/trainer", include_in_schema=False)


@router.get("/inspectors", dependencies=[allow("see_figures")])
def show_inspectors(request: Request, store: StoreDep, figures: FiguresDep) -> Response:
    view = load_inspectors(store, figures)
    return figures_page(
        request,
        "trainer/inspectors.html",
        figures,
        title=phrase("Rates by inspector"),
        view=view,
        report=view.report,
        errors=view.errors,
        uneven=view.report.uneven,
        fewest=FEWEST,
        shown=build_rate(view.shown[1], view.shown[0]),
    )


@router.get("/artisans/{code}", dependencies=[allow("see_figures")])
def show_artisan(request: Request, code: str, store: StoreDep, figures: FiguresDep) -> Response:
    report = load_artisan(store, figures, code)
    own = {StepRef(step.checklist, step.step) for step in report.steps}
    faults = {StepRef(one.checklist, one.step): draw_faults(one) for one in report.faults}
    return figures_page(
        request,
        "trainer/artisan.html",
        figures,
        title=report.name,
        report=report,
        charts=[
            (step, draw_learning(step), faults.get(StepRef(step.checklist, step.step)))
            for step in report.steps
        ],
        photos=list_fault_photos(store, figures, report),
        uneven=_keep_maker(load_uneven_steps(store, figures, own), code),
    )


def _keep_maker(uneven: list[UnevenStep], code: str) -> list[UnevenStep]:
    """Of the steps where the inspectors differ, what is about this artisan."""
    own = [
        replace(step, makers=tuple(maker for maker in step.makers if maker.artisan == code))
        for step in uneven
    ]
    return [step for step in own if step.makers]


@router.get("/faults", dependencies=[allow("see_figures")])
def show_faults(request: Request, store: StoreDep, figures: FiguresDep) -> Response:
    return figures_page(
        request,
        "trainer/faults.html",
        figures,
        title=phrase("What goes wrong"),
        charts=[(step, draw_faults(step)) for step in figures.step_faults],
        photos=list_photos_by_step(store, figures) if figures.step_faults else {},
    )


@router.get("/pieces", dependencies=[allow("see_figures")])
def show_pieces(request: Request, figures: FiguresDep) -> Response:
    return figures_page(
        request,
        "trainer/pieces.html",
        figures,
        title=phrase("Right first time over the stages"),
        found=figures.pieces,
    )


@router.get("/escapes", dependencies=[allow("see_figures")])
def show_escapes(request: Request, figures: FiguresDep) -> Response:
    return figures_page(
        request,
        "trainer/escapes.html",
        figures,
        title=phrase("Faults that a stage let through"),
        stages=figures.escapes,
    )


@router.get("/hours", dependencies=[allow("see_figures")])
def show_hours(request: Request, store: StoreDep) -> Response:
    view = load_hours(store)
    return page(request, "trainer/hours.html", title=phrase("Hours beside faults"), view=view)


@router.get("/tables/{name}.csv", dependencies=[allow("see_figures")])
def get_csv(request: Request, name: str, figures: FiguresDep) -> Response:
    table = build_table(figures, name)
    return _file(request, write_csv(table), "text/csv; charset=utf-8", name, "csv")


@router.get("/tables.xlsx", dependencies=[allow("see_figures")])
def get_xlsx(request: Request, figures: FiguresDep) -> Response:
    content = write_xlsx(build_table(figures, name) for name in TABLES)
    return _file(request, content, XLSX, "trainer", "xlsx")


def _file(request: Request, content: bytes, kind: str, what: str, suffix: str) -> Response:
    state = request.app.state
    yard = read_yard_name(state.store, state.settings.yard_name)
    headers = {
        "Content-Disposition": f'attachment; filename="{name_file(yard.lower(), what)}.{suffix}"',
        "X-Content-Type-Options": "nosniff",
    }
    return Response(content, media_type=kind, headers=headers)
