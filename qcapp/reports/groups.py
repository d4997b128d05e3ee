"""Who counts as an apprentice, and counts of a group that never stand without an interval."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from qcapp.inspection.tallies import StepVisit
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class ApprenticeRule:
    """An apprentice has made fewer than `stoves` stoves of a step; without `stoves`, the first
    day was at most `days` days before the stove was inspected."""

    days: int
    stoves: int | None = None

    def is_apprentice(self, visit: StepVisit, started_on: str | None) -> bool:
        """Asked for each stove at its own time: an apprentice becomes experienced on the way."""
        if self.stoves is not None:
            return visit.made_before < self.stoves
        if started_on is None:
            return False
        made_on = date.fromisoformat(visit.captured_at[:10])
        return (made_on - date.fromisoformat(started_on)).days <= self.days


@dataclass(frozen=True)
class GroupRate:
    """Stoves on which a group did the step: inspected, failed; rate and interval None of nothing."""

    inspected: int
    failed: int
    rate: float | None
    interval: Interval | None


def build_rate(inspected: int, failed: int) -> GroupRate:
    if inspected == 0:
        return GroupRate(0, 0, None, None)
    return GroupRate(inspected, failed, failed / inspected, wilson_interval(failed, inspected))


def count_visits(visits: Iterable[StepVisit]) -> GroupRate:
    kept = list(visits)
    return build_rate(len(kept), sum(visit.failed for visit in kept))


def split_visits(
    visits: Iterable[StepVisit], people: Mapping[str, Mapping], rule: ApprenticeRule
) -> tuple[list[StepVisit], list[StepVisit], list[StepVisit]]:
    """(apprentices', experienced makers', not assigned). people: by code."""
    groups: tuple[list, list, list] = ([], [], [])
    for visit in visits:
        if visit.artisan is None:
            groups[2].append(visit)
        else:
            started_on = people.get(visit.artisan, {}).get("started_on")
            groups[0 if rule.is_apprentice(visit, started_on) else 1].append(visit)
    return groups
