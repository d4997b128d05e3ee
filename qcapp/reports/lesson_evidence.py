"""How sure it is that the taught changed, and that they changed otherwise than the others."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import SideCount
from qcapp.reports.groups import GroupRate, build_rate
from qcapp.stats.compare import find_stoves_to_distinguish
from qcapp.stats.interval import Estimate
from qcapp.stats.person_comparisons import PersonSides, compare_changes
from qcapp.stats.strata import Stratum, mantel_haenszel

MIN_OTHERS = 2
# Up to this the taught are said to have changed otherwise.
MAX_P = 0.05
# A forecast from fewer stoves before than this is none.
MIN_FOR_FORECAST = 20


@dataclass(frozen=True)
class PersonChange:
    """One person's stoves before and after."""

    artisan: str
    name: str
    before: GroupRate
    after: GroupRate


@dataclass(frozen=True)
class OthersChange:
    """The change of the taught against that of `others` people not taught; p: two-sided, a person
    being the unit. says: more (fewer faults than the others' change explains), less, or not shown.
    """

    others: int
    p: float
    says: str


@dataclass(frozen=True)
class StovesMore:
    """Stoves of the taught, after the lesson, that would tell whether the rate was halved: between
    what both ends of the rate before demand; high None: at the low end no number can be named.
    """

    low: int
    high: int | None


def list_changes(
    counts: Iterable[SideCount], people: Mapping[str, Mapping[str, Any]]
) -> list[PersonChange]:
    """People with stoves on both sides, by code."""
    sides: dict[str, dict[bool, list[int]]] = {}
    for one in counts:
        both = sides.setdefault(one.artisan, {}).setdefault(one.is_after, [0, 0])
        both[0] += one.inspected
        both[1] += one.failed
    return [
        PersonChange(
            code,
            people.get(code, {}).get("name", code),
            build_rate(*sides[code][False]),
            build_rate(*sides[code][True]),
        )
        for code in sorted(sides)
        if all(sides[code].get(is_after, [0])[0] for is_after in (False, True))
    ]


def find_change(taught: Sequence[PersonChange]) -> Estimate | None:
    """After minus before, each person a stratum: who made more stoves on one side of the lesson
    does not turn the sum. None where nothing failed, or everything.
    """
    strata = [
        Stratum(one.after.failed, one.after.inspected, one.before.failed, one.before.inspected)
        for one in taught
    ]
    return mantel_haenszel(strata).risk_difference


def compare_with_others(
    taught: Sequence[PersonChange], others: Sequence[PersonChange]
) -> OthersChange | None:
    if not taught or len(others) < MIN_OTHERS:
        return None
    found = compare_changes(
        tuple(
            PersonSides(
                is_taught,
                one.before.failed,
                one.before.inspected,
                one.after.failed,
                one.after.inspected,
            )
            for is_taught, group in ((True, taught), (False, others))
            for one in group
        )
    )
    if found.p > MAX_P:
        return OthersChange(len(others), found.p, phrase("not shown"))
    return OthersChange(
        len(others), found.p, phrase("more") if found.a_fell_more else phrase("less")
    )


def find_stoves_more(before: GroupRate, after: GroupRate, min_count: int) -> StovesMore | None:
    """Until a halving of the rate before would show, four times in five.

    None from fewer than MIN_FOR_FORECAST stoves before, and where there are stoves enough.
    """
    if before.inspected < MIN_FOR_FORECAST or before.interval is None or not before.rate:
        return None
    few, many = (
        _find_needed(base, before, after, min_count)
        for base in (before.interval.high, before.interval.low)
    )
    if few is None or many == 0:
        return None
    return StovesMore(few, many)


def _find_needed(base: float, before: GroupRate, after: GroupRate, min_count: int) -> int | None:
    ratio = max(0.2, before.inspected / max(after.inspected, min_count))
    needed = find_stoves_to_distinguish(base / 2, base, b_per_a=ratio)
    return None if needed is None else max(0, max(needed, min_count) - after.inspected)
