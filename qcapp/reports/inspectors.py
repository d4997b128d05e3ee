"""Do inspectors find as much as each other, on the same work?"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.inspector_counts import InspectorLooks, InspectorSteps, InspectorStoves
from qcapp.reports.groups import GroupRate, People, build_rate, name_person
from qcapp.reports.uneven_looks import UnevenStep, list_uneven_steps
from qcapp.stats.compare import benjamini_hochberg
from qcapp.stats.dispersion import ClusterCounts, find_dispersion, weaken_p, widen_estimate
from qcapp.stats.interval import Estimate
from qcapp.stats.misclassification import LookErrors, correct_rate
from qcapp.stats.strata import MantelHaenszel, Stratum, mantel_haenszel

# An inspector is named as finding more or fewer with at most this share of wrong names.
NAMED_Q = 0.05


@dataclass(frozen=True)
class InspectorRow:
    """stoves: inspected, with a fault. steps: the same of single steps. difference: of the rate by
    step against all other inspectors, on the same steps of the same makers in the same batches, as
    a fraction; compared: stoves' steps of this inspector where another one looked as well.

    mark: more, fewer, not shown (to differ), too few, or alone (nobody looked at the same).
    """

    inspector: str
    name: str
    stoves: GroupRate
    steps: GroupRate
    difference: Estimate | None
    q: float | None
    compared: int
    mark: str


@dataclass(frozen=True)
class MakerRow:
    """One maker, all steps together. by_inspector: in the order of the report's inspectors."""

    artisan: str
    name: str
    steps: GroupRate
    by_inspector: tuple[GroupRate, ...]


@dataclass(frozen=True)
class CorrectedStep:
    """shown: as first looks counted it; corrected: as second looks would; None where not known."""

    step: StepRef
    title: str
    shown: GroupRate
    corrected: Estimate | None


@dataclass(frozen=True)
class InspectorReport:
    """dispersion: how much more faults come together on a stove than by chance."""

    inspectors: tuple[InspectorRow, ...]
    makers: tuple[MakerRow, ...]
    uneven: tuple[UnevenStep, ...]
    dispersion: float

    @property
    def differing(self) -> list[InspectorRow]:
        return [row for row in self.inspectors if row.mark in ("more", "fewer")]


def build_inspector_report(
    steps: Sequence[InspectorSteps],
    stoves: Sequence[InspectorStoves],
    known_steps: Mapping[StepRef, Step],
    people: People,
    *,
    min_count: int,
) -> InspectorReport:
    """Everybody in order of code, never of rate."""
    codes = sorted({one.inspector for one in stoves})
    dispersion = find_dispersion(_list_clusters(steps, stoves))
    found = {code: mantel_haenszel(_list_strata(steps, code)) for code in codes}
    q = _adjust(found, dispersion)
    rows = []
    for code in codes:
        own = [one for one in stoves if one.inspector == code]
        difference = found[code].risk_difference
        difference = None if difference is None else _cut(widen_estimate(difference, dispersion))
        compared = sum(
            stratum.a_inspected for stratum in _list_strata(steps, code) if stratum.b_inspected
        )
        total = build_rate(sum(one.inspected for one in own), sum(one.failed for one in own))
        mark = _mark(total.inspected, compared, difference, q.get(code), min_count)
        rows.append(
            InspectorRow(
                code,
                name_person(people, code),
                total,
                _sum(one for one in steps if one.inspector == code),
                difference,
                q.get(code),
                compared,
                mark,
            )
        )
    return InspectorReport(
        tuple(rows),
        tuple(_list_makers(steps, codes, people)),
        tuple(list_uneven_steps(_list_looks(steps), known_steps, people, min_count=min_count)),
        dispersion,
    )


def _list_clusters(
    steps: Sequence[InspectorSteps], stoves: Sequence[InspectorStoves]
) -> Iterable[ClusterCounts]:
    """Stoves of one batch, stage and inspector, which should be alike."""
    spread: dict[tuple[str, str, str], float] = {}
    for one in steps:
        key = (one.stage, one.batch, one.inspector)
        rate = one.failed / one.inspected
        spread[key] = spread.get(key, 0.0) + one.inspected * rate * (1 - rate)
    for group in stoves:
        expected = spread.get((group.stage, group.batch, group.inspector), 0.0) / group.inspected
        yield ClusterCounts(group.inspected, group.failed_steps, group.squares, expected)


def _list_strata(steps: Sequence[InspectorSteps], inspector: str) -> list[Stratum]:
    """This inspector (a) and all others (b), for each maker's step in each batch and stage."""
    counts: dict[tuple[str, str, StepRef, str | None], list[int]] = {}
    for one in steps:
        key = (one.stage, one.batch, one.step, one.artisan)
        place = 0 if one.inspector == inspector else 2
        stratum = counts.setdefault(key, [0, 0, 0, 0])
        stratum[place] += one.failed
        stratum[place + 1] += one.inspected
    return [Stratum(*stratum) for stratum in counts.values()]


def _adjust(found: Mapping[str, MantelHaenszel], dispersion: float) -> dict[str, float]:
    """q of each inspector who could be compared: with two there is but one comparison."""
    weak = {
        code: weaken_p(one.p_value, dispersion)
        for code, one in found.items()
        if one.p_value is not None
    }
    if len(weak) <= 2:
        return weak
    return dict(zip(weak, benjamini_hochberg(list(weak.values())), strict=True))


def _cut(estimate: Estimate) -> Estimate:
    return Estimate(
        estimate.value, max(-1.0, estimate.low), min(1.0, estimate.high), estimate.level
    )


def _mark(
    inspected: int, compared: int, difference: Estimate | None, q: float | None, min_count: int
) -> str:
    if compared == 0:
        return phrase("alone")
    if inspected < min_count or compared < min_count or difference is None or q is None:
        return phrase("too few")
    if q > NAMED_Q:
        return phrase("not shown")
    return phrase("more") if difference.value > 0 else phrase("fewer")


def _list_makers(
    steps: Sequence[InspectorSteps], inspectors: Sequence[str], people: People
) -> Iterable[MakerRow]:
    for code in sorted({one.artisan for one in steps if one.artisan is not None}):
        own = [one for one in steps if one.artisan == code]
        yield MakerRow(
            code,
            name_person(people, code),
            _sum(own),
            tuple(_sum(one for one in own if one.inspector == name) for name in inspectors),
        )


def _list_looks(steps: Sequence[InspectorSteps]) -> Iterable[InspectorLooks]:
    for one in steps:
        if one.artisan is not None:
            yield InspectorLooks(one.step, one.artisan, one.inspector, one.inspected)


def correct_steps(
    steps: Sequence[InspectorSteps],
    known_steps: Mapping[StepRef, Step],
    errors: LookErrors,
    dispersion: float,
) -> list[CorrectedStep]:
    """Each step's rate as second looks would show it, taking all steps as alike in how they are
    seen.
    """
    rows = []
    for step in known_steps:
        shown = _sum(one for one in steps if one.step == step)
        if shown.inspected:
            corrected = correct_rate(shown.failed, shown.inspected, errors, dispersion=dispersion)
            rows.append(CorrectedStep(step, text_of(known_steps[step].title), shown, corrected))
    return rows


def _sum(counts: Iterable[InspectorSteps]) -> GroupRate:
    kept = list(counts)
    return build_rate(sum(one.inspected for one in kept), sum(one.failed for one in kept))
