"""Sums of what was counted, as the store keeps them; what a change adds and takes away."""

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

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
