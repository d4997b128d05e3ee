"""Rows of readings and of passes in the order made, by template, artisan or kiln load."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.model import NUMBER_KINDS, Check, Limits, Step
from qcapp.i18n.phrase import phrase
from qcapp.inspection.tallies import CheckObservation

# The article inspected at this stage is a kiln load.
LOAD_STAGE = "firing"


@dataclass(frozen=True)
class Template:
    """What a step is marked out or cut with; the artisans who share it. since: ISO date or None."""

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

    size: None where sizes are put together, each reading as its distance from the middle.
    middle_of: what the values are measured from, in words.
    """

    check: Check
    group: Group
    size: str | None
    middle_of: str
    points: tuple[Point, ...]
    restarted_on: str | None


@dataclass(frozen=True)
class Passes:
    """Stoves looked at on one step of one group, in order; a stove with two failed checks counts
    once.
    """

    step: Step
    group: Group
    points: tuple[tuple[str, str, str, bool], ...]  # stove, captured_at, batch, failed
    restarted_on: str | None


def list_groups(
    step: str,
    artisans: Iterable[str],
    stages: Iterable[str],
    templates: Sequence[Template],
    people: Mapping[str, Mapping[str, Any]],
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
    checks: Mapping[str, Check],
    templates: Sequence[Template],
    replacements: Sequence[Replacement],
    people: Mapping[str, Mapping[str, Any]],
) -> list[Series]:
    """One row for each measured check and group whose readings vary at all."""
    by_check: dict[str, list[CheckObservation]] = {}
    for observation in observations:
        if (
            observation.value is not None
            and observation.check_id in checks
            and checks[observation.check_id].kind in NUMBER_KINDS
        ):
            by_check.setdefault(observation.check_id, []).append(observation)
    found = []
    for check_id, check in checks.items():
        here = by_check.get(check_id, [])
        sizes = _sizes_apart(check, here)
        for group in _groups_of(here, check.step, templates, people):
            for size in sizes:
                own = [
                    observation
                    for observation in here
                    if observation.artisan in group.artisans and size in (None, observation.size)
                ]
                series = _build_one(check, group, size, own, replacements)
                if len({point.value for point in series.points}) > 1:
                    found.append(series)
    return found


def _groups_of(
    observations: Sequence[CheckObservation], step: str, templates, people
) -> list[Group]:
    artisans = {observation.artisan for observation in observations if observation.artisan}
    return list_groups(
        step, artisans, {observation.stage for observation in observations}, templates, people
    )


def _sizes_apart(check: Check, observations: Sequence[CheckObservation]) -> list[str | None]:
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
    check: Check,
    group: Group,
    size: str | None,
    observations: Sequence[CheckObservation],
    replacements,
) -> Series:
    restarted_on = find_restart(check.step, group, replacements)
    observations = [
        observation
        for observation in observations
        if restarted_on is None or observation.captured_at[:10] >= restarted_on
    ]
    several = len({observation.size for observation in observations}) > 1
    points = tuple(
        Point(
            observation.stove,
            observation.captured_at,
            observation.value - (find_middle(check.limits_for(observation.size)) if several else 0),
            observation.failed,
        )
        for observation in observations
    )
    return Series(
        check,
        group,
        size,
        phrase("the middle of the limits") if several else "",
        points,
        restarted_on,
    )


def find_restart(step: str, group: Group, replacements: Sequence[Replacement]) -> str | None:
    """The newest day on which the step's template was replaced for everybody in the group."""
    days = [one.on for one in replacements if one.step == step and group.artisans <= one.artisans]
    return max(days, default=None)


def build_passes(
    observations: Sequence[CheckObservation],
    steps: Mapping[str, Step],
    templates: Sequence[Template],
    replacements: Sequence[Replacement],
    people: Mapping[str, Mapping[str, Any]],
) -> list[Passes]:
    """One row for each step and group: did the stove pass on the step."""
    by_step: dict[str, list[CheckObservation]] = {}
    for observation in observations:
        by_step.setdefault(observation.step, []).append(observation)
    found = []
    for step_id, step in steps.items():
        here = by_step.get(step_id, [])
        for group in _groups_of(here, step_id, templates, people):
            restarted_on = find_restart(step_id, group, replacements)
            stoves: dict[str, tuple[str, str, str, bool]] = {}
            for observation in here:
                if observation.artisan in group.artisans and (
                    restarted_on is None or observation.captured_at[:10] >= restarted_on
                ):
                    failed = (
                        observation.failed or stoves.get(observation.stove, (0, 0, 0, False))[3]
                    )
                    stoves[observation.stove] = (
                        observation.stove,
                        observation.captured_at,
                        observation.batch,
                        failed,
                    )
            if stoves:
                found.append(Passes(step, group, tuple(stoves.values()), restarted_on))
    return found
