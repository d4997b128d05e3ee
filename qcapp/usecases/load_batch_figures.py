"""What was found in a batch, by each of the checklists that its stoves were inspected by."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.inspection.batch_facts import BatchOutline
from qcapp.reports.batch import BatchReport, StageCounts, build_batch_report
from qcapp.reports.earlier import EarlierBatches, compare_earlier
from qcapp.reports.plan import AgreedPlan, read_plan
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import batch_figures
from qcapp.store.queries.batch_facts import load_batch_outline
from qcapp.store.queries.batch_series import list_earlier_counts
from qcapp.store.registry import batches
from qcapp.store.registry.batches import Batch
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.load_batch import FINISHED


@dataclass(frozen=True)
class BatchFigures:
    """What was found in a batch by one checklist. checklists: those by which stoves of it were
    inspected, the finished ones first; checklist, report: None before any was. unreleased: at the
    same stage, those not simply released. earlier: beside the first checklist, None where there is
    nothing alike to compare with.
    """

    batch: Batch
    checklists: Sequence[Checklist]
    checklist: Checklist | None
    report: BatchReport | None
    unreleased: Sequence[batch_figures.UnreleasedStove]
    earlier: EarlierBatches | None


def load_batch_figures(store: Store, code: str, checklist: str = "") -> BatchFigures:
    """checklist: the id of one by which stoves of the batch were inspected; else the first.

    Raises NotFound.
    """
    with store.reading() as connection:
        found = _load_inspection(connection, code)
        first = next(iter(found.checklists), None)
        shown = next((one for one in found.checklists if one.id == checklist), first)
        counts = _count_stage(connection, shown, found) if shown else None
        return BatchFigures(
            batch=found.batch,
            checklists=found.checklists,
            checklist=shown,
            report=build_batch_report(found.batch, shown, counts) if shown and counts else None,
            unreleased=batch_figures.list_unreleased(connection, code, shown.stage)
            if shown
            else [],
            earlier=_load_earlier(connection, found, counts) if shown is first else None,
        )


def load_batch_reports(store: Store, code: str) -> list[BatchReport]:
    """One for each checklist by which stoves of it were inspected, the finished ones first.

    Raises NotFound.
    """
    with store.reading() as connection:
        found = _load_inspection(connection, code)
        return [
            build_batch_report(found.batch, one, _count_stage(connection, one, found))
            for one in found.checklists
        ]


@dataclass(frozen=True)
class _Inspection:
    """How a batch was inspected. outline, plan: None where nothing says how it is to be."""

    batch: Batch
    states: Sequence[batch_figures.StoveState]
    checklists: Sequence[Checklist]
    outline: BatchOutline | None
    plan: AgreedPlan | None


def _load_inspection(connection: Connection, code: str) -> _Inspection:
    """A stove counts for the checklist that it was first inspected by. Raises NotFound."""
    batch = batches.get_batch(connection, code)
    states = batch_figures.list_stove_states(connection, code)
    history = load_history(connection)
    inspected_by = sorted(
        {row.checklist for row in states},
        key=lambda name: (
            history.stages[name] != FINISHED,
            name not in batch["checklist_ids"],
            name,
        ),
    )
    try:
        outline = load_batch_outline(connection, batch)
    except BadInput:
        outline = None
    plan = read_plan(outline) if outline else None
    return _Inspection(batch, states, [history.merge(name) for name in inspected_by], outline, plan)


def _count_stage(connection: Connection, checklist: Checklist, found: _Inspection) -> StageCounts:
    code, name = found.batch["code"], checklist.id
    is_planned = found.outline is not None and found.outline.checklist.id == name
    return StageCounts(
        [row for row in found.states if row.checklist == name],
        batch_figures.count_released_later(connection, code, name),
        batch_figures.list_first_passes(connection, code, name),
        batch_figures.list_check_tallies(connection, code, name),
        batch_figures.list_fault_tallies(connection, code, name),
        found.plan if is_planned else None,
    )


def _load_earlier(
    connection: Connection, found: _Inspection, counts: StageCounts | None
) -> EarlierBatches | None:
    """counts: of the report beside it, which mostly has read the first passes already."""
    if found.outline is None or found.plan is None:
        return None
    stage = found.outline.stage
    here = [row for row in found.states if row.stage == stage]
    stoves = (
        counts.passes
        if counts and counts.states == here
        else batch_figures.list_stage_passes(connection, found.batch["code"], stage)
    )
    earlier = list_earlier_counts(connection, found.batch, found.outline.checklist)
    return compare_earlier(stoves, found.plan, earlier)
