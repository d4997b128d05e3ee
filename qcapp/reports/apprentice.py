"""One artisan: is the rate falling with the stoves made, and how far is it from the experienced."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import CheckRef, StepRef
from qcapp.checklist.items import Step
from qcapp.errors import BadInput
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.observations import StepInspection
from qcapp.inspection.report_counts import FaultCount, StepTally
from qcapp.reports.faults import StepFaults, build_step_faults
from qcapp.reports.groups import ApprenticeRule, GroupRate, People, build_rate, sum_tallies
from qcapp.stats.interval import Estimate
from qcapp.stats.learning import (
    LearningCurve,
    StovesNeeded,
    find_stoves_needed,
    fit_learning_curve,
    rate_after,
)

RECENT = 20
CURVE_POINTS = 25
# A curve is drawn where the data say more than what is put into it: with so many stoves at least,
# and a slope whose interval leaves out 0, so that a flat rate is refused at 5 %. Else its shape
# would be that of the model alone.
MIN_FOR_CURVE = 20
UNKNOWN_START = phrase(
    "How much was made before the first record is not known, so no curve is drawn"
)
NOT_SHOWN = phrase(
    "These figures cannot tell whether the rate changes as more is made, so no curve is drawn"
)


@dataclass(frozen=True)
class CurvePoint:
    made_before: int
    rate: Estimate


@dataclass(frozen=True)
class Run:
    """Stoves made one after the other, first and last counted from 1 as they were recorded."""

    first: int
    last: int
    rate: GroupRate


@dataclass(frozen=True)
class ArtisanStep:
    """One checklist's step of one artisan. experienced: pooled rate of its experienced makers.

    is_from_first: every stove the artisan made can be in the records; else how many came before is
    unknown, and not none. curve: points of the learning curve, empty where the data do not show one
    (why says so). needed: stoves made until the experienced makers' rate, None where the data
    cannot tell.
    recent: the newest stoves, oldest first: (serial key, failed, worst severity).
    """

    checklist: str
    step: str
    title: str
    rate: GroupRate
    experienced: GroupRate
    is_from_first: bool
    runs: tuple[Run, ...]
    curve: tuple[CurvePoint, ...]
    trend: str
    why: str
    needed: StovesNeeded | None
    recent: tuple[tuple[str, bool, str | None], ...]


@dataclass(frozen=True)
class ArtisanReport:
    artisan: str
    name: str
    started_on: str | None
    steps: tuple[ArtisanStep, ...]
    faults: tuple[StepFaults, ...]


def build_artisan_report(
    artisan: str,
    inspections: Iterable[StepInspection],
    tallies: Iterable[StepTally],
    faults: Iterable[FaultCount],
    steps: Mapping[StepRef, Step],
    checks: Mapping[CheckRef, Check],
    *,
    people: People,
    rule: ApprenticeRule,
) -> ArtisanReport:
    """inspections: the artisan's, in the order made. tallies, faults: of everybody, since the
    experienced makers' rate is needed beside.
    """
    person = people.get(artisan, {})
    started_on = person.get("started_on")
    by_step: dict[StepRef, list[StepInspection]] = {}
    for inspection in inspections:
        by_step.setdefault(inspection.step, []).append(inspection)
    old: dict[StepRef, list[StepTally]] = {}
    for one in tallies:
        if one.step in by_step and _is_experienced_other(one, artisan, people, rule):
            old.setdefault(one.step, []).append(one)
    found = [
        _build_step(
            step,
            text_of(steps[step].title),
            by_step[step],
            sum_tallies(old.get(step, ())),
            is_from_first=rule.is_recorded_from_the_first(step, started_on),
        )
        for step in steps
        if step in by_step
    ]
    found.sort(key=lambda one: (-one.rate.failed, one.step, one.checklist))
    own_faults = [count for count in faults if count.artisan == artisan]
    return ArtisanReport(
        artisan,
        person.get("name", artisan),
        started_on,
        tuple(found),
        tuple(build_step_faults(own_faults, steps, checks, people)),
    )


def _is_experienced_other(
    one: StepTally, artisan: str, people: People, rule: ApprenticeRule
) -> bool:
    if one.artisan is None or one.artisan == artisan:
        return False
    return not rule.is_apprentice(one, people.get(one.artisan, {}).get("started_on"))


def _build_step(
    ref: StepRef,
    title: str,
    own: Sequence[StepInspection],
    experienced: GroupRate,
    *,
    is_from_first: bool,
) -> ArtisanStep:
    curve, why = _fit(own) if is_from_first else (None, UNKNOWN_START)
    needed = None
    if curve and experienced.rate and 0 < experienced.rate < 1:
        needed = find_stoves_needed(curve, experienced.rate)
    return ArtisanStep(
        checklist=ref.checklist,
        step=ref.step,
        title=title,
        rate=build_rate(len(own), sum(inspection.failed for inspection in own)),
        experienced=experienced,
        is_from_first=is_from_first,
        runs=tuple(_list_runs(own)),
        curve=tuple(_list_points(curve)) if curve else (),
        trend=_trend(curve),
        why=why,
        needed=needed,
        recent=tuple(
            (inspection.stove, inspection.failed, inspection.severity)
            for inspection in own[-RECENT:]
        ),
    )


def _fit(own: Sequence[StepInspection]) -> tuple[LearningCurve | None, str]:
    """The curve, or None with the reason why none is drawn."""
    if len(own) < MIN_FOR_CURVE:
        return None, phrase(
            "%(inspected)s inspected are too few for a curve; %(needed)s are needed",
            inspected=len(own),
            needed=MIN_FOR_CURVE,
        )
    try:
        curve = fit_learning_curve([v.made_before for v in own], [v.failed for v in own])
    except BadInput as error:
        return None, str(error)
    return (curve, "") if curve.is_clear else (None, NOT_SHOWN)


def _trend(curve: LearningCurve | None) -> str:
    if curve is None:
        return "not shown"
    return "falling" if curve.slope.value < 0 else "rising"


def _list_points(curve: LearningCurve) -> Iterable[CurvePoint]:
    last = max(curve.max_made, 1)
    places = sorted({round(last * k / (CURVE_POINTS - 1)) for k in range(CURVE_POINTS)})
    return (CurvePoint(made, rate_after(curve, made)) for made in places)


def _list_runs(own: Sequence[StepInspection]) -> Iterable[Run]:
    """Stoves in order of making, cut into at most eight runs of equal length (five or more)."""
    length = max(5, -(-len(own) // 8))
    for start in range(0, len(own), length):
        part = own[start : start + length]
        yield Run(
            part[0].made_before + 1,
            part[-1].made_before + 1,
            build_rate(len(part), sum(v.failed for v in part)),
        )
