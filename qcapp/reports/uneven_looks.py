"""Did the same inspectors look at everybody's work?"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.inspection.inspector_counts import InspectorLooks
from qcapp.reports.groups import People, name_person
from qcapp.stats.association import find_association

# Shares of an inspector that differ by less hardly move a comparison of makers.
MIN_GAP = 0.2
UNEVEN_P = 0.05


@dataclass(frozen=True)
class UnevenMaker:
    """shares: (inspector's name, looks at this maker's step, all looks at it) of who looked most
    unevenly; others: the same of the other makers together.
    """

    artisan: str
    name: str
    inspector: str
    own: tuple[int, int]
    others: tuple[int, int]


@dataclass(frozen=True)
class UnevenStep:
    """A step whose makers were not looked at by the same inspectors alike."""

    step: StepRef
    title: str
    p: float
    makers: tuple[UnevenMaker, ...]


def list_uneven_steps(
    looked: Iterable[InspectorLooks],
    known_steps: Mapping[StepRef, Step],
    people: People,
    *,
    min_count: int,
) -> Iterable[UnevenStep]:
    """Steps whose makers with enough stoves were looked at by other inspectors than the rest."""
    by_step: dict[StepRef, dict[str, dict[str, int]]] = {}
    for one in looked:
        looks = by_step.setdefault(one.step, {}).setdefault(one.artisan, {})
        looks[one.inspector] = looks.get(one.inspector, 0) + one.inspected
    for step in [*(known for known in known_steps if known in by_step)]:
        makers = {
            code: looks
            for code, looks in sorted(by_step[step].items())
            if sum(looks.values()) >= min_count
        }
        inspectors = sorted({name for looks in makers.values() for name in looks})
        table = [[looks.get(name, 0) for name in inspectors] for looks in makers.values()]
        found = find_association(table) if len(makers) > 1 else None
        if found is None or found.p > UNEVEN_P or max(found.gaps) < MIN_GAP:
            continue
        uneven = [
            _describe_uneven(code, makers, inspectors, people)
            for code, gap in sorted(zip(makers, found.gaps, strict=True))
            if gap >= MIN_GAP
        ]
        yield UnevenStep(step, text_of(known_steps[step].title), found.p, tuple(uneven))


def _describe_uneven(
    code: str, makers: Mapping[str, Mapping[str, int]], inspectors: Sequence[str], people: People
) -> UnevenMaker:
    own, others = makers[code], [looks for maker, looks in makers.items() if maker != code]
    all_own, all_others = sum(own.values()), sum(sum(looks.values()) for looks in others)

    def count(inspector: str) -> tuple[tuple[int, int], tuple[int, int]]:
        theirs = sum(looks.get(inspector, 0) for looks in others)
        return (own.get(inspector, 0), all_own), (theirs, all_others)

    def gap(inspector: str) -> float:
        mine, theirs = count(inspector)
        return abs(mine[0] / mine[1] - theirs[0] / theirs[1])

    # With two inspectors both gaps are the same: the one who inspected most of these stoves.
    most = max(inspectors, key=lambda name: (round(gap(name), 9), own.get(name, 0)))
    return UnevenMaker(code, name_person(people, code), name_person(people, most), *count(most))
