"""Loads what the page about inspectors is made from, under the trainer's filters."""

from collections.abc import Collection
from dataclasses import dataclass

from qcapp.checklist.history import StepRef
from qcapp.reports.inspectors import (
    CorrectedStep,
    InspectorReport,
    build_inspector_report,
    correct_steps,
)
from qcapp.reports.look_errors import SecondLookErrors
from qcapp.reports.uneven_looks import UnevenStep, list_uneven_steps
from qcapp.stats.interval import Estimate
from qcapp.stats.misclassification import correct_rate
from qcapp.store.engine import Store
from qcapp.store.queries.inspector_queries import (
    list_inspector_looks,
    list_inspector_steps,
    list_inspector_stoves,
)
from qcapp.usecases.load_trainer import find_steps
from qcapp.usecases.second_look import load_look_errors
from qcapp.usecases.trainer_figures import TrainerFigures


@dataclass(frozen=True)
class InspectorView:
    """shown: stoves with a fault, inspected; stove_rate: as second looks would show it, None where
    not known.
    """

    report: InspectorReport
    errors: SecondLookErrors
    shown: tuple[int, int]
    stove_rate: Estimate | None
    corrected: list[CorrectedStep]


def load_inspectors(store: Store, figures: TrainerFigures) -> InspectorView:
    """One consistent view; second looks of all days, since there are few."""
    wanted = find_steps(figures.history, figures.filters)
    with store.reading() as connection:
        steps = list_inspector_steps(connection, figures.counted, wanted)
        stoves = list_inspector_stoves(connection, figures.counted, wanted)
        errors = load_look_errors(connection)
    report = build_inspector_report(
        steps, stoves, figures.steps, figures.people, min_count=figures.min_count
    )
    failed, inspected = sum(one.failed for one in stoves), sum(one.inspected for one in stoves)
    return InspectorView(
        report,
        errors,
        (failed, inspected),
        correct_rate(failed, inspected, errors.by_stove) if inspected else None,
        correct_steps(steps, figures.steps, errors.by_step, report.dispersion),
    )


def load_uneven_steps(
    store: Store, figures: TrainerFigures, steps: Collection[StepRef] | None = None
) -> list[UnevenStep]:
    """Steps where a comparison of makers is also one of their inspectors.

    steps: the only ones that are asked for; those of the filtered trade where not given.
    """
    wanted = find_steps(figures.history, figures.filters) if steps is None else steps
    with store.reading() as connection:
        looks = list_inspector_looks(connection, figures.counted, wanted)
    return list(
        list_uneven_steps(looks, figures.steps, figures.people, min_count=figures.min_count)
    )
