"""Counts as the store gives them and the reports take them. All are of first passes."""

from dataclasses import dataclass


@dataclass(frozen=True)
class StepTally:
    """First passes of one artisan (None: not assigned) on one step in one batch.

    inspected, failed: stoves; failed ones have at least one failed check of the step.
    """

    step: str
    artisan: str | None
    batch: str
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
class Filters:
    """What a figure is made from. None: no limit. since, until: ISO dates, both inclusive.

    has_rework: also later visits, not only first passes.
    """

    since: str | None = None
    until: str | None = None
    batch: str | None = None
    size: str | None = None
    stage: str | None = None
    trade: str | None = None
    has_rework: bool = False


@dataclass(frozen=True)
class StepVisit:
    """One stove looked at on one step: who did the step, and whether a check of it failed.

    made_before: stoves on which this artisan's step had been looked at before (first passes,
    by captured time, whatever the filters leave out). severity: the worst failed check's, or None.
    """

    stove: str
    step: str
    artisan: str | None
    batch: str
    captured_at: str
    made_before: int
    failed: bool
    severity: str | None


@dataclass(frozen=True)
class FaultCount:
    """How often one fault of one check was found, by artisan."""

    step: str
    check_id: str
    fault: str | None
    severity: str
    artisan: str | None
    failed: int


@dataclass(frozen=True)
class Look:
    """One judged check of a first pass, in the row that charts are made from.

    value: in the check's unit, None where nothing is measured.
    """

    stove: str
    stage: str
    size: str
    batch: str
    captured_at: str
    check_id: str
    step: str
    artisan: str | None
    failed: bool
    value: float | None
