"""Counts as the store keeps and gives them, and the reports take them."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from qcapp.checklist.history import StepRef

COUNTED_VERDICTS = ("pass", "fail", "doubtful")
SEVERITY_RANK = {"critical": 3, "major": 2, "minor": 1}
_RANK = {**SEVERITY_RANK, "": 0}


class CountedCheck(NamedTuple):
    """One judged check of one inspection, with what it is counted by."""

    check_id: str
    part: str
    step: str
    severity: str
    artisan: str | None
    verdict: str
    is_fail: bool
    fault: str | None


class CountedInspection(NamedTuple):
    """day: ISO, UTC; checklist: id."""

    day: str
    batch: str
    size: str
    stage: str
    checklist: str
    is_first_pass: bool
    checks: tuple[CountedCheck, ...]


class TallyKey(NamedTuple):
    """What one tally counts; "" where a kind is not divided by a column.

    kind: step and part (inspections that looked at it; of a step by artisan), severity
    (inspections with a failed check of it), check (by artisan), fault (failed checks, by artisan),
    stove (stoves by disposition, of no day; failed: at first pass). Every kind is divided by
    checklist: an id of a check, step or part says nothing without it.
    """

    kind: str
    day: str
    batch: str
    size: str
    stage: str
    checklist: str
    is_first_pass: bool
    name: str
    part: str
    step: str
    severity: str
    fault: str
    artisan: str


class Counts(NamedTuple):
    """critical, major, minor: failed ones of kind step, by the worst failed check."""

    inspected: int = 0
    failed: int = 0
    doubtful: int = 0
    critical: int = 0
    major: int = 0
    minor: int = 0

    def add(self, other: "Counts", times: int = 1) -> "Counts":
        # Written out: a push adds ten thousand of them.
        inspected, failed, doubtful, critical, major, minor = other
        return Counts(
            self.inspected + times * inspected,
            self.failed + times * failed,
            self.doubtful + times * doubtful,
            self.critical + times * critical,
            self.major + times * major,
            self.minor + times * minor,
        )


NOTHING = Counts()
# Of one inspection: by whether it is doubtful, whether it failed; of a step, by its worst failed
# check.
_COUNTS = ((Counts(1), Counts(1, 1)), (Counts(1, 0, 1), Counts(1, 1, 1)))
_STEP_COUNTS = {
    "": Counts(1),
    **{name: Counts(1, 1)._replace(**{name: 1}) for name in SEVERITY_RANK},
}


def tally(inspections: Iterable[CountedInspection]) -> dict[TallyKey, Counts]:
    """Sums of what was looked at; missing and not applicable checks are in none."""
    sums: dict[tuple[Any, ...], Counts] = {}
    # Most are alike: all good, by the same people.
    for one, n in Counter(inspections).items():
        for key, counts in _tally_one(one):
            known = sums.get(key)
            if known is None and n == 1:
                sums[key] = counts
            else:
                sums[key] = (known or NOTHING).add(counts, n)
    return {TallyKey._make(key): counts for key, counts in sums.items()}


def _tally_one(one: CountedInspection) -> Iterator[tuple[tuple[Any, ...], Counts]]:
    """What one inspection adds: the values of a TallyKey, and counts."""
    of_inspection, worst = one[:-1], {}
    for check_id, part, step, severity, artisan, verdict, is_fail, fault in one.checks:
        if verdict not in COUNTED_VERDICTS:
            continue
        by, found = artisan or "", severity if is_fail else ""
        of_check = (*of_inspection, check_id, part, step, severity)
        yield ("check", *of_check, "", by), _COUNTS[verdict == "doubtful"][is_fail]
        if is_fail:
            yield ("fault", *of_check, fault or "", by), _COUNTS[verdict == "doubtful"][True]
            worst["severity", severity, ""] = severity
        # Counted once an inspection, however many of its checks belong to it.
        for key in (("step", step, by), ("part", part, "")):
            if _RANK[found] >= _RANK[worst.get(key, "")]:
                worst[key] = found
    for (kind, name, by), severity in worst.items():
        counts = _STEP_COUNTS[severity] if kind == "step" else _COUNTS[False][bool(severity)]
        yield (kind, *of_inspection, name, "", "", "", "", by), counts


def subtract(
    after: dict[TallyKey, Counts], before: dict[TallyKey, Counts]
) -> dict[TallyKey, Counts]:
    """What has changed, without what has not."""
    changed = {
        key: after.get(key, Counts()).add(before.get(key, Counts()), -1)
        for key in after.keys() | before.keys()
    }
    return {key: counts for key, counts in changed.items() if any(counts)}


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
class Filters:
    """What a figure is made from. None: no limit. since, until: ISO dates, both inclusive.

    has_rework: also later inspections, not only first passes. has_all_days: also what is older
    than the newest half year, which is left out where neither day nor batch is given.
    """

    since: str | None = None
    until: str | None = None
    batch: str | None = None
    size: str | None = None
    stage: str | None = None
    trade: str | None = None
    has_rework: bool = False
    has_all_days: bool = False


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


@dataclass(frozen=True)
class FaultCount:
    """How often one fault of one check of the step's checklist was found, by artisan."""

    step: StepRef
    check_id: str
    fault: str | None
    severity: str
    artisan: str | None
    failed: int


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
