"""One step of one stove, or one check of it: the rows that reports and charts are made from."""

from dataclasses import dataclass
from typing import NamedTuple

from qcapp.checklist.history import StepRef


@dataclass(frozen=True)
class StepInspection:
    """One stove of an artisan looked at on one step, and whether a check of it failed.

    made_before: stoves on which this artisan's step had been looked at before (first passes,
    by captured time, whatever the filters leave out). severity: the worst failed check's, or None.
    """

    stove: str
    step: StepRef
    made_before: int
    failed: bool
    severity: str | None


class CheckObservation(NamedTuple):
    """One judged check of a first pass, in the row that charts are made from.

    value: in the check's unit, None where nothing is measured. failed: by the limits of its own
    revision (checklist_hash).
    """

    stove: str
    stage: str
    size: str
    batch: str
    captured_at: str
    checklist: str
    checklist_hash: str
    check_id: str
    step: str
    artisan: str | None
    failed: bool
    value: float | None
