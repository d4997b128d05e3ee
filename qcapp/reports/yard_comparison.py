"""Yards beside each other, like with like: one published checklist, one size, the same months.

A yard is compared with all of them together. No order of merit is made.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from qcapp.stats.funnel import (
    ALARM,
    ALERT,
    MAX_CHANCE,
    Dispersion,
    exact_limit,
    find_dispersion,
    find_standing_out,
    wide_limit,
)
from qcapp.stats.shrinkage import ShrunkRate, shrink_rates

# With fewer yards the spread between them is hardly known.
FEW_YARDS = 5


class YardCount(NamedTuple):
    """Of one yard, checklist (by hash), size and month (2026-11). failed, good: at first pass;
    unsure: articles without a failure of which a check was left out.
    """

    yard: str
    checklist: str
    size: str
    month: str
    failed: int
    good: int
    unsure: int


class Month(NamedTuple):
    month: str
    failed: int
    inspected: int


@dataclass(frozen=True)
class Limits:
    """Shares of failed articles between which a yard of this size lies by chance alone, 95 % and
    99.8 %.
    """

    low: float
    high: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class YardRate:
    """place: inside, beyond (its 95 % limits), far_beyond (it stands out from all the others), few.
    side: better or worse, "" inside.
    months: oldest first, without empty ones.
    """

    yard: str
    rate: ShrunkRate
    unsure: int
    limits: Limits
    place: str
    side: str
    months: tuple[Month, ...]


@dataclass(frozen=True)
class Comparison:
    """checklist: hash. target: failed share of the yards together, those that stand out left aside;
    None when nothing was inspected. is_widened: the limits allow for true differences between
    yards.
    """

    checklist: str
    size: str
    target: float | None
    dispersion: Dispersion
    is_widened: bool
    yards: tuple[YardRate, ...]

    @property
    def inspected(self) -> int:
        return sum(one.rate.inspected for one in self.yards)

    @property
    def has_few_yards(self) -> bool:
        return len(self.yards) < FEW_YARDS


def list_groups(counts: Iterable[YardCount]) -> list[tuple[str, str]]:
    """(checklist hash, size) with stoves: those of most yards first, then of most stoves."""
    yards: dict[tuple[str, str], set[str]] = {}
    stoves: dict[tuple[str, str], int] = {}
    for one in counts:
        if one.failed + one.good:
            key = (one.checklist, one.size)
            yards.setdefault(key, set()).add(one.yard)
            stoves[key] = stoves.get(key, 0) + one.failed + one.good
    return sorted(stoves, key=lambda key: (-len(yards[key]), -stoves[key], key))


def build_comparison(
    counts: Iterable[YardCount], checklist: str, size: str, min_count: int
) -> Comparison:
    """Yards by name; those without an article of this kind are left out."""
    by_yard: dict[str, list[YardCount]] = {}
    for one in counts:
        if (one.checklist, one.size) == (checklist, size) and one.failed + one.good:
            by_yard.setdefault(one.yard, []).append(one)
    names = sorted(by_yard)
    pairs = [_sum(by_yard[name]) for name in names]
    if not pairs:
        return Comparison(checklist, size, None, Dispersion(1.0, 1.0, 0.0), False, ())
    enough = [at for at, (_, n) in enumerate(pairs) if n >= min_count]
    apart = {enough[at] for at in find_standing_out([pairs[at] for at in enough])}
    rest = [pair for at, pair in enumerate(pairs) if at not in apart]
    target = sum(failed for failed, _ in rest) / sum(n for _, n in rest)
    dispersion = find_dispersion(rest, target)
    is_widened = dispersion.between > 0 and dispersion.p < MAX_CHANCE
    line = _Line(target, dispersion.between if is_widened else 0.0, min_count)
    yards = tuple(
        _judge(name, rate, by_yard[name], line, is_apart=at in apart)
        for at, (name, rate) in enumerate(zip(names, shrink_rates(pairs).people, strict=True))
    )
    return Comparison(checklist, size, target, dispersion, is_widened, yards)


def _sum(counts: Iterable[YardCount]) -> tuple[int, int]:
    found = [(one.failed, one.failed + one.good) for one in counts]
    return sum(failed for failed, _ in found), sum(n for _, n in found)


def find_limits(target: float, inspected: int, between: float) -> Limits:
    """Exact binomial where chance alone is at work (between 0), else widened."""
    tails = ((1 - ALERT) / 2, (1 + ALERT) / 2, (1 - ALARM) / 2, (1 + ALARM) / 2)
    if between:
        return Limits(*(wide_limit(target, inspected, between, tail) for tail in tails))
    return Limits(*(exact_limit(target, inspected, tail) for tail in tails))


class _Line(NamedTuple):
    """What each yard is held against. between: standard deviation between yards, 0 by chance."""

    target: float
    between: float
    min_count: int


def _judge(
    name: str, rate: ShrunkRate, counts: Sequence[YardCount], line: _Line, *, is_apart: bool
) -> YardRate:
    limits = find_limits(line.target, rate.inspected, line.between)
    share = rate.failed / rate.inspected
    if is_apart:
        place = "far_beyond"
    elif rate.inspected < line.min_count:
        place = "few"
    else:
        place = "inside" if limits.low <= share <= limits.high else "beyond"
    side = "" if place in ("inside", "few") else "worse" if share > line.target else "better"
    unsure = sum(one.unsure for one in counts)
    return YardRate(name, rate, unsure, limits, place, side, _list_months(counts))


def _list_months(counts: Iterable[YardCount]) -> tuple[Month, ...]:
    months: dict[str, list[YardCount]] = {}
    for one in counts:
        months.setdefault(one.month, []).append(one)
    return tuple(Month(month, *_sum(months[month])) for month in sorted(months))
