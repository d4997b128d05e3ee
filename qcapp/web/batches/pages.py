"""Batches and their state; one batch as its lead sees it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request

from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import phrase
from qcapp.reports.batch import BatchReport, build_batch_report
from qcapp.store.engine import Store
from qcapp.store.queries import batch_figures
from qcapp.store.registry import batches, checklists
from qcapp.usecases.issue_summary import load_batch_review_view
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.layout.part_map import draw_part_map
from qcapp.web.layout.template_filters import as_localized
from qcapp.web.rules import allow

router = APIRouter()
ON_A_PAGE = 50


@dataclass(frozen=True)
class StageReport:
    checklist: str
    drawing: str
    report: BatchReport


@router.get("/batches", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batches(
    request: Request, store: StoreDep, skip: Annotated[int, Query(ge=0, le=1_000_000)] = 0
):
    with store.reading() as connection:
        found = batches.list_batches(connection, newest=ON_A_PAGE + 1, skip=skip)
        states = batch_figures.list_stove_states(connection, *(batch["code"] for batch in found))
    rows = []
    for batch in found[:ON_A_PAGE]:
        here = [row for row in states if row.batch == batch["code"]]
        stages = sorted({row.stage for row in here}, key=lambda stage: (stage != "finished", stage))
        rows.append(
            {"batch": batch, "stages": [(stage, _sum_states(here, stage)) for stage in stages]}
        )
    older = skip + ON_A_PAGE if len(found) > ON_A_PAGE else None
    return page(
        request,
        "batches/batches.html",
        title=phrase("Batches"),
        rows=rows,
        older=older,
        newer=skip > 0,
    )


def _sum_states(states: list, stage: str) -> dict[str, int]:
    here = [row for row in states if row.stage == stage]
    counts = {row.disposition: row.stoves for row in here}
    inspected = sum(row.stoves for row in here)
    return {
        **counts,
        "inspected": inspected,
        "first_pass_good": inspected - sum(row.failed for row in here),
    }


def load_stage_reports(connection, batch: dict) -> list[tuple[Checklist, BatchReport]]:
    """One report for each stage at which stoves of the batch were inspected, finished first."""
    states = batch_figures.list_stove_states(connection, batch["code"])
    stages = {row.stage for row in states}
    current = checklists.list_current_checklists(connection)
    ordered = sorted(current, key=lambda checklist: (checklist.stage != "finished", checklist.id))
    return [
        (checklist, _build(connection, batch, checklist, states))
        for checklist in ordered
        if checklist.stage in stages
    ]


def _build(connection, batch: dict, checklist: Checklist, states: list) -> BatchReport:
    code, stage = batch["code"], checklist.stage
    return build_batch_report(
        batch,
        checklist,
        states,
        batch_figures.list_check_tallies(connection, code, stage),
        batch_figures.list_fault_tallies(connection, code, stage),
        batch_figures.count_failed_stoves(connection, code, stage),
    )


@router.get("/batches/{code}", include_in_schema=False, dependencies=[allow("see_batches")])
def show_batch(request: Request, code: str, store: StoreDep, drawings: DrawingsDep):
    return batch_page(request, code, store, drawings)


def batch_page(
    request: Request,
    code: str,
    store: Store,
    drawings: Mapping[str, str],
    fresh_link: str | None = None,
):
    """The lead's page of one batch. fresh_link: the address just made, shown once."""
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
        reports = load_stage_reports(connection, batch)
        stoves = batch_figures.list_stoves(connection, code)
        desk = load_batch_review_view(connection, batch)
    stages = [
        StageReport(
            as_localized(checklist.title), _mark(drawings[checklist.drawing], report), report
        )
        for checklist, report in reports
    ]
    return page(
        request,
        "batches/batch.html",
        title=phrase("Batch %(code)s", code=code),
        batch=batch,
        stages=stages,
        stoves=stoves,
        desk=desk,
        fresh_link=fresh_link,
    )


def _mark(drawing: str, report: BatchReport) -> str:
    counts = [
        phrase("%(part)s: %(n)s", part=report.parts[part], n=n)
        for part, n in report.fails_by_part.items()
        if n
    ]
    return draw_part_map(
        drawing, report.fails_by_part, counts, title=phrase("Failed checks by part")
    )


@router.get("/api/batches/{code}", dependencies=[allow("see_batches")])
def get_batch(code: str, store: StoreDep) -> list[BatchReport]:
    """The figures of a batch's page, one entry a stage."""
    with store.reading() as connection:
        return [
            report
            for _checklist, report in load_stage_reports(
                connection, batches.get_batch(connection, code)
            )
        ]
