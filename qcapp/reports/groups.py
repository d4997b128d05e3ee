"""Who counts as an apprentice, and counts of a group that never stand without an interval."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

# Step, artisan, batch.
_Place = tuple[StepRef, str | None, str]
# What the registry knows of each artisan, by code.
People = Mapping[str, Mapping[str, Any]]
# Fewer stoves of a person than this make nobody a witness of how people differ.
MIN_OF_PERSON = 5
# Who carries the faults of a step: see find_carriers.
MIN_TO_CARRY, MIN_FOR_TWO = 2, 8
CARRIED, TIMES_THEIR_SHARE = 0.75, 1.3


@lru_cache(maxsize=1024)
def _find_last_day(started_on: str, days: int) -> str:
    """ISO date of the last day as an apprentice: asked for each of thousands of tallies."""
    try:
        return (date.fromisoformat(started_on) + timedelta(days)).isoformat()
    except OverflowError:
        return date.max.isoformat()


@dataclass(frozen=True)
class ApprenticeRule:
    """An apprentice had made fewer than `stoves` stoves of a step when the day began; without
    `stoves`, the first day was at most `days` days before the stove was inspected.

    recorded_since: first day with a record of each step, ISO. What somebody made before it is not
    known; whoever began before it is judged by days.
    """

    days: int
    stoves: int | None = None
    recorded_since: Mapping[StepRef, str] = field(default_factory=dict)

    def is_apprentice(self, counted: StepTally, started_on: str | None) -> bool:
        """Asked for each day's stoves by that day: an apprentice becomes experienced on the way."""
        if self.stoves is not None:
            if counted.made_before >= self.stoves:
                return False
            if self.is_recorded_from_the_first(counted.step, started_on):
                return True
        if started_on is None:
            return False
        return counted.day <= _find_last_day(started_on, self.days)

    def is_recorded_from_the_first(self, step: StepRef, started_on: str | None) -> bool:
        """Whether nobody's stove of the step can be missing: the records are as old as the
        artisan's first day. Without a first day that is not known.
        """
        since = self.recorded_since.get(step)
        return since is None or (started_on is not None and started_on >= since)


@dataclass(frozen=True)
class GroupRate:
    """Stoves on which a group did the step: inspected, failed; rate and interval None of
    nothing. The interval is about these people's stoves, not about other people.
    """

    inspected: int
    failed: int
    rate: float | None
    interval: Interval | None


@dataclass(frozen=True)
class PersonRate:
    """One person's stoves of a step. group: apprentice, experienced, or both (in turn)."""

    artisan: str
    name: str
    group: str
    rate: GroupRate


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
    """(apprentices', experienced makers', not assigned). people: by code.

    Once the group is known no day matters: each has one tally for each step, artisan and batch,
    with the first of its days.
    """
    firsts: tuple[dict[_Place, StepTally], ...] = ({}, {}, {})
    sums: dict[tuple[int, _Place], list[int]] = {}
    for one in tallies:
        step, artisan, batch, _day, inspected, failed, critical, major, minor, _made = one
        group = 2
        if artisan is not None:
            started_on = people.get(artisan, {}).get("started_on")
            group = 0 if rule.is_apprentice(one, started_on) else 1
        place = (step, artisan, batch)
        if place not in firsts[group]:
            firsts[group][place] = one
            sums[group, place] = [inspected, failed, critical, major, minor]
        else:
            own = sums[group, place]
            own[0] += inspected
            own[1] += failed
            own[2] += critical
            own[3] += major
            own[4] += minor
    new, old, unknown = (
        [
            StepTally._make((*one[:4], *sums[group, place], one.made_before))
            for place, one in found.items()
        ]
        for group, found in enumerate(firsts)
    )
    return new, old, unknown


def name_person(people: People, code: str) -> str:
    """The name; the code of who is not known here."""
    return str(people.get(code, {}).get("name", code))


def count_people(tallies: Iterable[StepTally]) -> int:
    """People with stoves enough to be one of a group."""
    stoves: dict[str | None, int] = {}
    for one in tallies:
        stoves[one.artisan] = stoves.get(one.artisan, 0) + one.inspected
    return sum(count >= MIN_OF_PERSON for count in stoves.values())


def list_people(
    new: Iterable[StepTally], old: Iterable[StepTally], people: People
) -> tuple[PersonRate, ...]:
    """Who did the step: the most faulty stoves first, then the most stoves."""
    by_code: dict[str, tuple[set[str], list[StepTally]]] = {}
    for group, tallies in (("apprentice", new), ("experienced", old)):
        for one in tallies:
            groups, own = by_code.setdefault(one.artisan or "", (set(), []))
            groups.add(group)
            own.append(one)
    found = [
        PersonRate(
            code,
            people.get(code, {}).get("name", code),
            "both" if len(groups) > 1 else min(groups),
            sum_tallies(own),
        )
        for code, (groups, own) in by_code.items()
    ]
    return tuple(
        sorted(found, key=lambda one: (-one.rate.failed, -one.rate.inspected, one.artisan))
    )


def find_carriers(who: Sequence[PersonRate]) -> tuple[PersonRate, ...]:
    """The one or two people who have at least three quarters of the faulty stoves, and clearly
    more than their share of the stoves; else nobody. A plain statement about these stoves, no test.

    who: as list_people gives them. One faulty stove alone says nothing of anybody; two people
    need MIN_FOR_TWO, and a quarter of them each.
    """
    failed, inspected = (
        sum(getattr(one.rate, name) for one in who) for name in ("failed", "inspected")
    )
    if failed < MIN_TO_CARRY:
        return ()
    for people in (who[:1], who[:2]) if failed >= MIN_FOR_TWO else (who[:1],):
        share = sum(one.rate.failed for one in people) / failed
        of_stoves = sum(one.rate.inspected for one in people) / inspected
        is_shared = all(4 * one.rate.failed >= failed for one in people)
        if share >= CARRIED and share >= TIMES_THEIR_SHARE * of_stoves and is_shared:
            return tuple(people)
    return ()
