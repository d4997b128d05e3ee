"""Rows of passes in the order made: did the stove pass on the step?"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from qcapp.checklist.history import ChecklistHistory, Criteria, StepRef
from qcapp.checklist.items import Step
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


class PassPoint(NamedTuple):
    """failed: whether any check of the step failed on the stove."""

    stove: str
    captured_at: str
    batch: str
    failed: bool


@dataclass(frozen=True)
class Passes:
    """Stoves looked at on one step of one group, in order; a stove with two failed checks counts
    once.

    criteria: the step with what its checks were judged by.
    """

    criteria: Criteria[Step]
    step: Step
    group: Group
    points: tuple[PassPoint, ...]
    restarted_on: str | None


def build_passes(
    observations: Sequence[CheckObservation],
    history: ChecklistHistory,
    templates: Sequence[Template],
    replacements: Sequence[Replacement],
    people: People,
) -> list[Passes]:
    """One row for each checklist's step, its limits and group: did the stove pass on the step."""
    by_step: dict[StepRef, list[CheckObservation]] = {}
    for observation in observations:
        ref = StepRef(observation.checklist, observation.step)
        by_step.setdefault(ref, []).append(observation)
    found = []
    for ref in history.steps:
        for criteria in history.list_step_criteria(ref) if ref in by_step else ():
            here = [one for one in by_step[ref] if one.checklist_hash in criteria.hashes]
            for group in list_observed_groups(here, ref.step, templates, people):
                restarted_on = find_restart(ref.step, group, replacements)
                points = _list_passes(
                    one
                    for one in here
                    if one.artisan in group.artisans and is_since_restart(one, restarted_on)
                )
                if points:
                    found.append(Passes(criteria, criteria.judged, group, points, restarted_on))
    return found


def _list_passes(observations: Iterable[CheckObservation]) -> tuple[PassPoint, ...]:
    stoves: dict[str, PassPoint] = {}
    for one in observations:
        has_failed = one.failed or (one.stove in stoves and stoves[one.stove].failed)
        stoves[one.stove] = PassPoint(one.stove, one.captured_at, one.batch, has_failed)
    return tuple(stoves.values())
