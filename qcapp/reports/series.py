"""Rows of readings in the order made, by template, artisan or kiln load."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, Criteria
from qcapp.i18n.phrase import phrase
from qcapp.inspection.observations import CheckObservation
from qcapp.reports.groups import People
from qcapp.reports.row_groups import (
    Group,
    Replacement,
    Template,
    find_restart,
    is_since_restart,
    list_observed_groups,
)


@dataclass(frozen=True)
class Point:
    """value: distance from the middle of the limits (or the reading itself), in the check's
    unit.
    """

    stove: str
    captured_at: str
    value: float
    failed: bool


@dataclass(frozen=True)
class Series:
    """Readings of one check and group since the last replacement, in the order captured.

    criteria: the check with the limits they were judged by.
    size: None where sizes are put together, each reading as its distance from the middle.
    middle_of: what the values are measured from, in words.
    """

    criteria: Criteria[Check]
    check: NumberCheck
    group: Group
    size: str | None
    middle_of: str
    points: tuple[Point, ...]
    restarted_on: str | None


def build_series(
    observations: Sequence[CheckObservation],
    history: ChecklistHistory,
    templates: Sequence[Template],
    replacements: Sequence[Replacement],
    people: People,
) -> list[Series]:
    """One row for each measured check, its limits and group whose readings vary at all.

    Readings judged by other limits stand in a row of their own: a new limit is no drift.
    """
    by_check: dict[CheckRef, list[CheckObservation]] = {}
    for observation in observations:
        if observation.value is not None:
            ref = CheckRef(observation.checklist, observation.check_id)
            by_check.setdefault(ref, []).append(observation)
    found = []
    for ref in history.checks:
        for criteria in history.list_check_criteria(ref) if ref in by_check else ():
            here = [one for one in by_check[ref] if one.checklist_hash in criteria.hashes]
            if isinstance(criteria.judged, NumberCheck):
                for group in list_observed_groups(here, criteria.judged.step, templates, people):
                    found += _build_group(criteria, criteria.judged, group, here, replacements)
    return found


def _build_group(
    criteria: Criteria[Check],
    check: NumberCheck,
    group: Group,
    observations: Sequence[CheckObservation],
    replacements: Sequence[Replacement],
) -> list[Series]:
    """A row of each size, or one of all sizes together."""
    rows = [
        _build_one(
            criteria,
            check,
            group,
            size,
            [
                observation
                for observation in observations
                if observation.artisan in group.artisans and size in (None, observation.size)
            ],
            replacements,
        )
        for size in _sizes_apart(check, observations)
    ]
    return [row for row in rows if len({point.value for point in row.points}) > 1]


def _sizes_apart(check: NumberCheck, observations: Sequence[CheckObservation]) -> list[str | None]:
    """None where every size has a middle, so that their distances from it can stand in one row."""
    sizes = sorted({observation.size for observation in observations})
    if len(sizes) < 2 or all(find_middle(check.limits_for(size)) is not None for size in sizes):
        return [None]
    return list(sizes)


def find_middle(limits: Limits | None) -> float | None:
    """The usual figure, or half way between two limits."""
    if limits is None:
        return None
    if limits.nominal is not None:
        return limits.nominal
    return (
        (limits.lower + limits.upper) / 2
        if limits.lower is not None and limits.upper is not None
        else None
    )


def _build_one(
    criteria: Criteria[Check],
    check: NumberCheck,
    group: Group,
    size: str | None,
    observations: Sequence[CheckObservation],
    replacements: Sequence[Replacement],
) -> Series:
    restarted_on = find_restart(check.step, group, replacements)
    kept = [one for one in observations if is_since_restart(one, restarted_on)]
    is_mixed = len({observation.size for observation in kept}) > 1
    points = tuple(
        Point(
            observation.stove,
            observation.captured_at,
            observation.value - (_find_offset(check, observation.size) if is_mixed else 0),
            observation.failed,
        )
        for observation in kept
        if observation.value is not None
    )
    middle_of = phrase("the middle of the limits") if is_mixed else ""
    return Series(criteria, check, group, size, middle_of, points, restarted_on)


def _find_offset(check: NumberCheck, size: str) -> float:
    """Sizes stand in one row only where each has a middle (`_sizes_apart`)."""
    return find_middle(check.limits_for(size)) or 0.0
