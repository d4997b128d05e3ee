"""Who counts as an apprentice, and counts of a group that never stand without an interval."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from qcapp.inspection.tallies import StepTally
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

# What the registry knows of each artisan, by code.
People = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class ApprenticeRule:
    """An apprentice had made fewer than `stoves` stoves of a step when the day began; without
    `stoves`, the first day was at most `days` days before the stove was inspected."""

    days: int
    stoves: int | None = None

    def is_apprentice(self, counted: StepTally, started_on: str | None) -> bool:
        """Asked for each day's stoves by that day: an apprentice becomes experienced on the way."""
        if self.stoves is not None:
            return counted.made_before < self.stoves
        if started_on is None:
            return False
        return (date.fromisoformat(counted.day) - date.fromisoformat(started_on)).days <= self.days


@dataclass(frozen=True)
class GroupRate:
    """Stoves on which a group did the step: inspected, failed; rate and interval None of
    nothing.
    """

    inspected: int
    failed: int
    rate: float | None
    interval: Interval | None


def build_rate(inspected: int, failed: int) -> GroupRate:
    if inspected == 0:
        return GroupRate(0, 0, None, None)
    return GroupRate(inspected, failed, failed / inspected, wilson_interval(failed, inspected))


def sum_tallies(tallies: Iterable[StepTally]) -> GroupRate:
    kept = list(tallies)
    return build_rate(sum(one.inspected for one in kept), sum(one.failed for one in kept))


def split_tallies(
    tallies: Iterable[StepTally], people: People, rule: ApprenticeRule
) -> tuple[list[StepTally], list[StepTally], list[StepTally]]:
    """(apprentices', experienced makers', not assigned). people: by code."""
    groups: tuple[list[StepTally], list[StepTally], list[StepTally]] = ([], [], [])
    for one in tallies:
        if one.artisan is None:
            groups[2].append(one)
        else:
            started_on = people.get(one.artisan, {}).get("started_on")
            groups[0 if rule.is_apprentice(one, started_on) else 1].append(one)
    return groups
