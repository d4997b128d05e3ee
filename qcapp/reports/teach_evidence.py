"""How sure it is that apprentices fail a step more often: people as the unit, batches apart."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import StepRef
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import MIN_OF_PERSON, GroupRate
from qcapp.stats.compare import find_stoves_to_distinguish
from qcapp.stats.person_comparisons import RateComparison, compare_rates
from qcapp.stats.person_likelihood import PersonCount

# When the page says how many stoves would tell, they would show a difference of this size.
MIN_WORTH_TEACHING = 0.10
# A forecast from fewer stoves than this on either side is none.
MIN_FOR_FORECAST = 20
# Between this many people of one group it can be seen how people differ.
MIN_FOR_SPREAD = 2


@dataclass(frozen=True)
class StovesMore:
    """Apprentices' stoves still to be inspected: low, where the experienced makers' rate is at the
    low end of its interval, to high, where it is at the high end. None: there no number of these
    people's stoves would tell, since people differ; it takes more people.
    """

    low: int | None
    high: int | None


# Tallies of apprentices and of experienced makers.
Groups = tuple[Sequence[StepTally], Sequence[StepTally]]


def compare_steps(
    steps: Mapping[StepRef, Groups], wanted: Iterable[StepRef]
) -> dict[StepRef, RateComparison]:
    """The wanted steps compared; the others say how people differ, where they can."""
    asked = set(wanted)
    counts = {
        step: _list_counts(*groups)
        for step, groups in steps.items()
        if step in asked or _tells_spread(groups)
    }
    if not asked:
        return {}
    found = compare_rates(tuple(counts.values()))
    return {step: one for step, one in zip(counts, found, strict=True) if step in asked}


def _tells_spread(groups: Groups) -> bool:
    """Whether one of the groups has people enough to be held against each other."""
    for tallies in groups:
        stoves: dict[str | None, int] = {}
        for one in tallies:
            stoves[one.artisan] = stoves.get(one.artisan, 0) + one.inspected
        if sum(count >= MIN_OF_PERSON for count in stoves.values()) >= MIN_FOR_SPREAD:
            return True
    return False


def _list_counts(new: Sequence[StepTally], old: Sequence[StepTally]) -> tuple[PersonCount, ...]:
    sums: dict[tuple[str, bool, str], list[int]] = {}
    for in_a, tallies in ((True, new), (False, old)):
        for one in tallies:
            both = sums.setdefault((one.artisan or "", in_a, one.batch), [0, 0])
            both[0] += one.failed
            both[1] += one.inspected
    return tuple(PersonCount(*key, *sums[key]) for key in sorted(sums))


def find_stoves_more(
    new: GroupRate, old: GroupRate, people: tuple[int, int], spread: float
) -> StovesMore | None:
    """Until a difference of MIN_WORTH_TEACHING would show, four times in five.

    Not of the size now seen: that size is luck in part, and a forecast from it promises too much.
    people: apprentices, experienced. None where it would rest on too few stoves, where people are
    lacking and not stoves, and where there are stoves enough.
    """
    if min(new.inspected, old.inspected) < MIN_FOR_FORECAST or old.interval is None:
        return None
    if min(people) < MIN_FOR_SPREAD:
        return None
    ratio = old.inspected / new.inspected
    needed = [
        _find_needed(base, ratio, people, spread) for base in (old.interval.low, old.interval.high)
    ]
    low, high = (None if count is None else max(0, count - new.inspected) for count in needed)
    return None if high == 0 else StovesMore(low, high)


def _find_needed(base: float, ratio: float, people: tuple[int, int], spread: float) -> int | None:
    worse = min(1.0, base + MIN_WORTH_TEACHING)
    between = spread**2 * sum(
        (rate * (1 - rate)) ** 2 / count for rate, count in zip((worse, base), people, strict=True)
    )
    return find_stoves_to_distinguish(worse, base, b_per_a=ratio, between=between)
