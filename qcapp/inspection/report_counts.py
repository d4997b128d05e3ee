"""Counts of steps, checks and faults, as queries give them and reports take them."""

from dataclasses import dataclass
from typing import NamedTuple

from qcapp.checklist.history import StepRef


class StepTally(NamedTuple):
    """Inspections of one day that looked at one artisan's (None: not assigned) step in one batch.

    failed: with at least one failed check of the step; critical, major, minor: those, by the worst
    one. made_before: first passes of this artisan's step before that day, whatever the filters
    leave out (0 where nobody asks).
    """

    step: StepRef
    artisan: str | None
    batch: str
    day: str
    inspected: int
    failed: int
    critical: int = 0
    major: int = 0
    minor: int = 0
    made_before: int = 0


@dataclass(frozen=True)
class SideCount:
    """Inspections by one checklist that looked at one artisan's step, on the days before or after a
    lesson.
    """

    checklist: str
    artisan: str
    is_after: bool
    inspected: int
    failed: int


@dataclass(frozen=True)
class FaultTally:
    """How often a fault of a check was found at first pass."""

    check_id: str
    part: str
    step: str
    severity: str
    fault: str | None
    failed: int


@dataclass(frozen=True)
class CheckTally:
    """One check at first pass: stoves looked at, failed, doubtful."""

    check_id: str
    part: str
    step: str
    severity: str
    inspected: int
    failed: int
    doubtful: int


@dataclass(frozen=True)
class FaultCount:
    """How often one fault of one check of the step's checklist was found, by artisan."""

    step: StepRef
    check_id: str
    fault: str | None
    severity: str
    artisan: str | None
    failed: int
