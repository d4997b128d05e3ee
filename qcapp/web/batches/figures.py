"""The figures of a batch: what was found at each stage, and how that compares with earlier ones."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from qcapp.charts.frame import Chart
from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.batch import BatchReport
from qcapp.reports.totals import MEANINGS, SumTable, list_sum_tables, list_wrong_sums
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_batch_figures import (
    BatchFigures,
    load_batch_figures,
    load_batch_reports,
)
from qcapp.web.batches.charts import draw_by_stove, draw_earlier
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.part_map import draw_part_map
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.rules import allow

router = APIRouter()


@dataclass(frozen=True)
class StageView:
    """What was found at one stage. drawing: SVG with the faults by part. wrong_sums: empty unless
    figures kept beside the log are damaged.
    """

    checklist: str
    drawing: str
    report: BatchReport
    sums: list[SumTable]
    wrong_sums: list[Phrase]
    by_stove: Chart | None


@router.get("/batches/{code}/figures", include_in_schema=False, dependencies=[allow("see_batches")])
def show_figures(
    request: Request,
    code: str,
    store: StoreDep,
    drawings: DrawingsDep,
    checklist: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """checklist: the id of one by which stoves of the batch were inspected; else the first."""
    return figures_page(request, load_batch_figures(store, code, checklist), drawings)


def figures_page(request: Request, found: BatchFigures, drawings: KeptDrawings) -> Response:
    return page(
        request,
        "batches/figures.html",
        title=phrase("Figures of batch %(code)s", code=found.batch["code"]),
        batch=found.batch,
        tabs=[(one.id, as_localized(one.title)) for one in found.checklists],
        chosen=found.checklist.id if found.checklist else "",
        stage=_view_stage(found.checklist, found.report, drawings)
        if found.checklist and found.report
        else None,
        unreleased=found.unreleased,
        word_meanings=MEANINGS,
        earlier=found.earlier,
        earlier_charts=draw_earlier(found.batch["code"], found.earlier) if found.earlier else [],
    )


def _view_stage(checklist: Checklist, report: BatchReport, drawings: KeptDrawings) -> StageView:
    by_part = report.totals.by["part"]
    counts = [
        phrase("%(part)s: %(n)s", part=report.parts.get(part, part), n=n)
        for part, n in by_part.items()
    ]
    drawing = draw_part_map(
        drawings.get(checklist),
        by_part,
        counts,
        title=phrase("Failed checks by part"),
    )
    totals = report.totals
    return StageView(
        as_localized(checklist.title),
        drawing,
        report,
        list_sum_tables(totals.stoves),
        list_wrong_sums(totals.stoves, totals.faults, totals.by),
        draw_by_stove(report) if len(report.by_stove) > 1 else None,
    )


@router.get("/api/batches/{code}", dependencies=[allow("see_batches")])
def get_batch(code: str, store: StoreDep) -> list[BatchReport]:
    """The figures of a batch, one entry a stage."""
    return load_batch_reports(store, code)
