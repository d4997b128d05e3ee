"""Batches and how far they are; one batch as its lead sees it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from qcapp.charts.frame import Chart
from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.batch import BatchReport
from qcapp.reports.totals import MEANINGS, SumTable, list_sum_tables, list_wrong_sums
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_batch import BatchView, list_batches, load_batch, load_stage_reports
from qcapp.web.batches.charts import draw_by_stove, draw_earlier, draw_outgoing
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.part_map import draw_part_map
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.rules import allow

router = APIRouter()
ON_A_PAGE = 50


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


@router.get("/batches", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batches(
    request: Request, store: StoreDep, skip: Annotated[int, Query(ge=0, le=1_000_000)] = 0
) -> Response:
    found = list_batches(store, newest=ON_A_PAGE + 1, skip=skip)
    return page(
        request,
        "batches/batches.html",
        title=phrase("Batches"),
        rows=found[:ON_A_PAGE],
        older=skip + ON_A_PAGE if len(found) > ON_A_PAGE else None,
        newer=skip > 0,
    )


@router.get("/batches/{code}", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batch(request: Request, code: str, store: StoreDep, drawings: DrawingsDep) -> Response:
    return batch_page(request, load_batch(store, code), drawings)


def batch_page(
    request: Request,
    found: BatchView,
    drawings: KeptDrawings,
    fresh_link: Mapping[str, Any] | None = None,
) -> Response:
    """fresh_link: path, address (None: nobody elsewhere reaches it) and reach of the link just
    made, shown once.
    """
    return page(
        request,
        "batches/batch.html",
        title=phrase("Batch %(code)s", code=found.batch["code"]),
        batch=found.batch,
        stages=[_view_stage(checklist, report, drawings) for checklist, report in found.reports],
        stoves=found.stoves,
        word_meanings=MEANINGS,
        review=found.review,
        outgoing=draw_outgoing(found.review.review.plan) if found.review else None,
        earlier=found.earlier,
        earlier_charts=draw_earlier(found.batch["code"], found.earlier) if found.earlier else [],
        fresh_link=fresh_link,
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
    """The figures of a batch's page, one entry a stage."""
    return [report for _checklist, report in load_stage_reports(store, code)]
