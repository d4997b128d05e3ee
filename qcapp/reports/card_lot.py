"""The lot of the cards: who gets one first, and what that changed."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import MIN_OF_PERSON, GroupRate, build_rate, sum_tallies
from qcapp.stats.lot import MIN_PEOPLE, LotEffect, PersonPeriods, estimate_lot_effect

# Days before the cards whose stoves are what each person is held against.
BEFORE_DAYS = 180
# How long the first half has the card alone.
MIN_WEEKS, USUAL_WEEKS, MAX_WEEKS = 4, 8, 26
RUNS, TOO_FEW_PEOPLE, TOO_FEW_FAULTS = "runs", "too_few_people", "too_few_faults"
FEWER, MORE, NOT_SHOWN = "fewer", "more", "not_shown"


@dataclass(frozen=True)
class CardLot:
    """first has the card from `since`, second from `until` on (ISO dates); aims: the step that each
    person's card named when the lot fell. drawn_on, by: when, by whose press.
    """

    seed: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    aims: Mapping[str, StepRef]
    since: str
    until: str
    drawn_on: str
    by: str

    def is_given(self, artisan: str, today: date) -> bool:
        """Whether this artisan may have a card today. Who is in neither half had no step to be
        measured by, and has it from the beginning.
        """
        return today.isoformat() >= (self.until if artisan in self.second else self.since)

    def is_over(self, today: date) -> bool:
        return today.isoformat() >= self.until


@dataclass(frozen=True)
class HalfCounts:
    """Faulty stoves of the named steps of everybody of a half who counts."""

    people: int
    before: GroupRate
    during: GroupRate


@dataclass(frozen=True)
class LotResult:
    """says: RUNS, TOO_FEW_PEOPLE, TOO_FEW_FAULTS, FEWER, MORE or NOT_SHOWN. counted: people
    with MIN_OF_PERSON stoves of their step in both times; effect: None unless it can be told.
    """

    lot: CardLot
    first: HalfCounts
    second: HalfCounts
    left_out: int
    effect: LotEffect | None
    says: str


def draw_lot(artisans: Iterable[str], seed: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(first half, second half), each by code. With fewer than MIN_PEOPLE everybody is first, since
    their lot could show nothing.

    The order is that of the SHA-256 of seed and code, so that anybody can draw it again.
    """
    known = sorted(set(artisans))
    if len(known) < MIN_PEOPLE:
        return tuple(known), ()
    drawn = sorted(known, key=lambda code: hashlib.sha256(f"{seed} {code}".encode()).hexdigest())
    half = (len(drawn) + 1) // 2
    return tuple(sorted(drawn[:half])), tuple(sorted(drawn[half:]))


def find_first_day(lot: CardLot) -> str:
    """The first day whose stoves count, ISO."""
    return (date.fromisoformat(lot.since) - timedelta(days=BEFORE_DAYS)).isoformat()


def build_lot_result(lot: CardLot, tallies: Iterable[StepTally], today: date) -> LotResult | None:
    """None where everybody had the card at once.

    tallies: first passes from find_first_day to the day before `until`. Nothing is said before
    the second half has its card: who looks at a result while it grows sees chance in it.
    """
    if not lot.second:
        return None
    periods = _sum_periods(lot, tallies)
    counted = {
        code: both
        for code, both in periods.items()
        if min(one.inspected for one in both) >= MIN_OF_PERSON
    }
    halves = [_sum_half(counted, codes) for codes in (lot.first, lot.second)]
    effect = None
    if lot.is_over(today):
        effect = estimate_lot_effect(
            tuple(
                PersonPeriods(
                    code in lot.first,
                    before.failed,
                    before.inspected,
                    during.failed,
                    during.inspected,
                )
                for code, (before, during) in sorted(counted.items())
            )
        )
    says = _say(halves, effect) if lot.is_over(today) else RUNS
    return LotResult(lot, halves[0], halves[1], len(periods) - len(counted), effect, says)


def _sum_periods(
    lot: CardLot, tallies: Iterable[StepTally]
) -> dict[str, tuple[GroupRate, GroupRate]]:
    own: dict[str, list[StepTally]] = {code: [] for code in lot.aims}
    for one in tallies:
        if one.artisan in own and lot.aims[one.artisan] == one.step and one.day < lot.until:
            own[one.artisan].append(one)
    return {
        code: (
            sum_tallies(one for one in found if one.day < lot.since),
            sum_tallies(one for one in found if one.day >= lot.since),
        )
        for code, found in own.items()
    }


def _sum_half(
    counted: Mapping[str, tuple[GroupRate, GroupRate]], codes: Sequence[str]
) -> HalfCounts:
    found = [counted[code] for code in codes if code in counted]
    before, during = (
        build_rate(
            sum(both[place].inspected for both in found), sum(both[place].failed for both in found)
        )
        for place in (0, 1)
    )
    return HalfCounts(len(found), before, during)


def _say(halves: Sequence[HalfCounts], effect: LotEffect | None) -> str:
    if effect is None:
        people = sum(half.people for half in halves)
        is_few = people < MIN_PEOPLE or not all(half.people for half in halves)
        return TOO_FEW_PEOPLE if is_few else TOO_FEW_FAULTS
    if effect.change.high < 0:
        return FEWER
    return MORE if effect.change.low > 0 else NOT_SHOWN
