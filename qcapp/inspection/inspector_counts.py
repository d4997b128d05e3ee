"""Counts of inspectors, as queries give them and reports take them."""

from dataclasses import dataclass
from typing import NamedTuple

from qcapp.checklist.history import StepRef


@dataclass(frozen=True)
class InspectorSteps:
    """Looks of one inspector at one maker's (None: not assigned) step in one batch at one stage.

    failed: with at least one failed check of the step.
    """

    stage: str
    batch: str
    step: StepRef
    artisan: str | None
    inspector: str
    inspected: int
    failed: int


class InspectorLooks(NamedTuple):
    """Looks of one inspector at one maker's step, whatever the batch."""

    step: StepRef
    artisan: str
    inspector: str
    inspected: int


@dataclass(frozen=True)
class InspectorStoves:
    """Inspections by one inspector in one batch at one stage.

    failed: with at least one failed check. failed_steps, squares: sum of the steps that failed on a
    stove, and of its square.
    """

    stage: str
    batch: str
    inspector: str
    inspected: int
    failed: int
    failed_steps: int
    squares: int
