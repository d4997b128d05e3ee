"""Rows of readings and of passes in the order made, by template, artisan or kiln load."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, Criteria, StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.phrase import phrase
from qcapp.inspection.observations import CheckObservation
from qcapp.inspection.pieces import LOAD_STAGE
from qcapp.reports.groups import People


@dataclass(frozen=True)
class Template:
    """What a step is marked out or cut with; the artisans who share it. since: ISO date or None.

    step: its id in every checklist that inspects this piece of work.
    """

    id: str
    step: str
    name: str
    artisans: frozenset[str]
    since: str | None = None


@dataclass(frozen=True)
class Replacement:
    """From this day on the step is done with a new or mended template: its rows begin anew."""

    id: str
    step: str
    artisans: frozenset[str]
    on: str
    note: str


@dataclass(frozen=True)
class Group:
    """kind: template, artisan or load; id: short, for addresses."""

    kind: str
    id: str
    title: str
    artisans: frozenset[str]


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


def list_groups(
    step: str,
    artisans: Iterable[str],
    stages: Iterable[str],
    templates: Sequence[Template],
    people: People,
) -> list[Group]:
    """Who and what a step's rows are drawn for: templates first, then artisans; a kiln load for a
    load.

    An artisan who alone uses a template, or alone tends the kiln, has no second row.
    """
    found = [
        Group(
            "template",
            template.id,
            f"{template.name} ({', '.join(sorted(template.artisans))})",
            template.artisans,
        )
        for template in templates
        if template.step == step
    ]
    working = frozenset(artisans)
    if working and set(stages) == {LOAD_STAGE}:
        found.append(Group("load", "all", phrase("Kiln loads"), working))
    single = {one for group in found if len(group.artisans) == 1 for one in group.artisans}
    return found + [
        Group(
            "artisan", code, f"{people.get(code, {}).get('name', code)} ({code})", frozenset([code])
        )
        for code in sorted(working - single)
    ]


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
                for group in _groups_of(here, criteria.judged.step, templates, people):
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


def _groups_of(
    observations: Sequence[CheckObservation],
    step: str,
    templates: Sequence[Template],
    people: People,
) -> list[Group]:
    artisans = {observation.artisan for observation in observations if observation.artisan}
    return list_groups(
        step, artisans, {observation.stage for observation in observations}, templates, people
    )


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
    kept = [one for one in observations if _is_since(one, restarted_on)]
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


def _is_since(observation: CheckObservation, restarted_on: str | None) -> bool:
    return restarted_on is None or observation.captured_at[:10] >= restarted_on


def find_restart(step: str, group: Group, replacements: Sequence[Replacement]) -> str | None:
    """The newest day on which the step's template was replaced for everybody in the group."""
    days = [one.on for one in replacements if one.step == step and group.artisans <= one.artisans]
    return max(days, default=None)


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
            for group in _groups_of(here, ref.step, templates, people):
                restarted_on = find_restart(ref.step, group, replacements)
                points = _list_passes(
                    one
                    for one in here
                    if one.artisan in group.artisans and _is_since(one, restarted_on)
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
