"""Batches as pages and commands show them: which there are, how far each is, one with its
figures.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.reports.batch import BatchReport, StageCounts, build_batch_report
from qcapp.reports.earlier import EarlierBatches, compare_earlier
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import batch_figures
from qcapp.store.registry import batches
from qcapp.store.registry.batches import Batch
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.issue_summary import (
    BatchReview,
    BatchReviewView,
    load_batch_review,
    load_batch_review_view,
)

FINISHED = "finished"


@dataclass(frozen=True)
class BatchView:
    """One batch as its lead sees it. reports: one for each stage at which stoves of it were
    inspected, the finished ones first; review: None where nothing can be decided; earlier: None
    where there is nothing alike to compare with.
    """

    batch: Batch
    reports: list[tuple[Checklist, BatchReport]]
    stoves: Sequence[Any]
    review: BatchReviewView | None
    earlier: EarlierBatches | None


def read_batch(store: Store, code: str) -> Batch:
    """Raises NotFound."""
    with store.reading() as connection:
        return batches.get_batch(connection, code)


def list_open_batches(store: Store) -> list[Batch]:
    """Newest first."""
    with store.reading() as connection:
        found = batches.list_batches(connection)
    return [batch for batch in found if batch["closed_at"] is None]


def list_batches(
    store: Store, *, newest: int, skip: int
) -> list[tuple[Batch, list[tuple[str, dict[str, int]]]]]:
    """[(batch, [(stage, its stoves in counts)])], newest first, the finished stage first."""
    with store.reading() as connection:
        found = batches.list_batches(connection, newest=newest, skip=skip)
        states = batch_figures.list_stove_states(connection, *(batch["code"] for batch in found))
    rows = []
    for batch in found:
        here = [row for row in states if row.batch == batch["code"]]
        stages = sorted({row.stage for row in here}, key=lambda stage: (stage != FINISHED, stage))
        rows.append((batch, [(stage, _sum_states(here, stage)) for stage in stages]))
    return rows


def _sum_states(states: Iterable[Any], stage: str) -> dict[str, int]:
    here = [row for row in states if row.stage == stage]
    counts = {row.disposition: row.stoves for row in here}
    inspected = sum(row.stoves for row in here)
    return {
        **counts,
        "inspected": inspected,
        "good": inspected - sum(row.failed for row in here),
    }


def count_inspected(store: Store, codes: Iterable[str]) -> dict[str, dict[str, int]]:
    """{batch: {stage: stoves}}, the finished stoves first: a liner looked at before is not one
    stove more.
    """
    with store.reading() as connection:
        states = batch_figures.list_stove_states(connection, *codes)
    found: dict[str, dict[str, int]] = {}
    for row in sorted(states, key=lambda row: (row.stage != FINISHED, row.stage)):
        stages = found.setdefault(row.batch, {})
        stages[row.stage] = stages.get(row.stage, 0) + row.stoves
    return found


def load_batch(store: Store, code: str) -> BatchView:
    """Raises NotFound."""
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
        review = load_batch_review_view(connection, batch)
        return BatchView(
            batch,
            _list_reports(connection, batch, review.review if review else None),
            batch_figures.list_stoves(connection, code),
            review,
            compare_earlier(review.review.facts, review.review.plan) if review else None,
        )


def load_stage_reports(store: Store, code: str) -> list[tuple[Checklist, BatchReport]]:
    """Raises NotFound."""
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
        try:
            review = load_batch_review(connection, batch)
        except BadInput:
            review = None
        return _list_reports(connection, batch, review)


def _list_reports(
    connection: Connection, batch: Batch, review: BatchReview | None
) -> list[tuple[Checklist, BatchReport]]:
    """One a checklist: a stove stands in the report of the one it was first inspected by."""
    states = batch_figures.list_stove_states(connection, batch["code"])
    history = load_history(connection)
    inspected_by = sorted(
        {row.checklist for row in states},
        key=lambda name: (
            history.stages[name] != FINISHED,
            name not in batch["checklist_ids"],
            name,
        ),
    )
    return [
        (
            checklist,
            build_batch_report(
                batch, checklist, _count_stage(connection, checklist, states, batch, review)
            ),
        )
        for checklist in map(history.merge, inspected_by)
    ]


def _count_stage(
    connection: Connection,
    checklist: Checklist,
    states: Sequence[batch_figures.StoveState],
    batch: Batch,
    review: BatchReview | None,
) -> StageCounts:
    code, name = batch["code"], checklist.id
    is_reviewed = review is not None and review.facts.checklist.id == name
    return StageCounts(
        [row for row in states if row.checklist == name],
        batch_figures.count_released_later(connection, code, name),
        batch_figures.list_first_passes(connection, code, name),
        batch_figures.list_check_tallies(connection, code, name),
        batch_figures.list_fault_tallies(connection, code, name),
        review.plan if review and is_reviewed else None,
    )
