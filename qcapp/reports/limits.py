"""The yard lead's question: does the making fit its limits, and does the tool fit the question?"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import sqrt

from qcapp.checklist.base_check import Limits as CheckLimits
from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, Criteria
from qcapp.i18n.phrase import phrase
from qcapp.i18n.units import name_unit
from qcapp.inspection.pieces import LOAD_STAGE
from qcapp.inspection.tallies import CheckObservation
from qcapp.reports.agreement import ReadingAgreement
from qcapp.reports.control_row import ControlRow
from qcapp.reports.reading_charts import build_order_chart
from qcapp.reports.series import Template
from qcapp.stats.capability import (
    Capability,
    find_percentile_ppk,
    measure_capability,
    normality_p,
    part_ties,
    spread_interval,
)
from qcapp.stats.normal import two_sided_z
from qcapp.stats.observed_spread import ObservedSpread, find_observed_spread
from qcapp.stats.uncertainty import COVERAGE, Limits, VerdictRisks, guard_limits, verdict_risks
from qcapp.stats.variance_share import VarianceShare, find_variance_share
from qcapp.stats.within_capability import WithinCapability, measure_within

# A p below this: the readings are not normal, and shares worked out as if they were would mislead.
NOT_NORMAL_P = 0.01
FEWEST_FOR_NORMALITY = 8
# Measuring that makes up more of the variance than this leaves nothing to weigh.
MAX_MEASURING = 0.9


@dataclass(frozen=True)
class Range:
    """A share (0 to 1), and what it becomes at the ends of what mean and spread may truly be."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class RuleRisk:
    """rule: simple or guarded. accepted: the readings that pass. Shares of all stoves."""

    rule: str
    accepted: Limits
    wrongly_passed: Range
    wrongly_failed: Range


@dataclass(frozen=True)
class Division:
    """How the variance divides. measuring: share by the stated uncertainty; artisans, templates:
    shares between them with intervals, None with fewer than two; rest: what is left inside one
    artisan's stoves after measuring. by_artisan: (code, n, mean).
    """

    measuring: float
    artisans: VarianceShare | None
    templates: VarianceShare | None
    rest: float
    by_artisan: tuple[tuple[str, int, float], ...]


@dataclass(frozen=True)
class LimitRow:
    """One measured check at one size, with the limits that its readings were judged by.

    why_not: in words, why there is no figure; else "".

    readings: in the order made; made: the stove and the moment of each. within: Cp and Cpk, if that
    chart is stable. normal_p: None with too few readings. middle figures None where why_not says
    so.
    """

    criteria: Criteria[Check]
    check: NumberCheck
    size: str
    n: int
    readings: tuple[float, ...]
    capability: Capability | None = None
    within: WithinCapability | None = None
    made: tuple[tuple[str, str], ...] = ()
    normal_p: float | None = None
    percentile_ppk: float | None = None
    risks: tuple[RuleRisk, ...] = ()
    outside: Range | None = None
    division: Division | None = None
    why_not: str = ""
    why_no_risk: str = ""

    @property
    def ref(self) -> CheckRef:
        return CheckRef(self.criteria.checklist, self.check.id)

    @cached_property
    def order_chart(self) -> ControlRow | None:
        """Made when asked for: the page of one check shows it, the list of all does not."""
        if self.within is None:
            return None
        points = [(*made, reading) for made, reading in zip(self.made, self.readings, strict=True)]
        return build_order_chart(points, name_unit(self.check.unit), self.within)

    @property
    def risk_in_force(self) -> RuleRisk | None:
        """Under the check's own rule."""
        return next((risk for risk in self.risks if risk.rule == self.check.decision), None)

    @property
    def is_normal(self) -> bool:
        return self.normal_p is None or self.normal_p >= NOT_NORMAL_P


def build_limit_rows(
    observations: Iterable[CheckObservation],
    history: ChecklistHistory,
    templates: Sequence[Template],
    *,
    min_count: int,
) -> list[LimitRow]:
    """A row for each measured check, size and limits, read at least once; counts are left out.

    Of one check and size the limits in force come first.
    """
    groups: dict[CheckRef, dict[str, list[CheckObservation]]] = {}
    for observation in observations:
        if observation.value is not None:
            by_size = groups.setdefault(CheckRef(observation.checklist, observation.check_id), {})
            by_size.setdefault(observation.size, []).append(observation)
    return [
        build_limit_row(criteria, check, size, here, templates, min_count=min_count)
        for ref in history.checks
        for size, read in sorted(groups.get(ref, {}).items())
        for criteria in history.list_check_criteria(ref, size)
        if isinstance(check := criteria.judged, NumberCheck) and not check.is_whole
        if (here := [one for one in read if one.checklist_hash in criteria.hashes])
    ]


def build_limit_row(
    criteria: Criteria[Check],
    check: NumberCheck,
    size: str,
    observations: Sequence[CheckObservation],
    templates: Sequence[Template],
    *,
    min_count: int,
) -> LimitRow:
    """Of the observations those that have a value."""
    read = sorted(
        (one for one in observations if one.value is not None),
        key=lambda one: (one.captured_at, one.stove),
    )
    values = tuple(one.value for one in read if one.value is not None)
    limits = check.limits_for(size)
    why_not = _why_not(values, limits, min_count)
    bare = LimitRow(
        criteria, check, size, len(values), values, why_not=why_not, why_no_risk=why_not
    )
    if limits is None or why_not:
        return bare
    return _measure(bare, limits, read, templates)


def _measure(
    bare: LimitRow,
    limits: CheckLimits,
    read: Sequence[CheckObservation],
    templates: Sequence[Template],
) -> LimitRow:
    """With the figures that enough readings allow."""
    check, values = bare.check, bare.readings
    found = measure_capability(values, limits.lower, limits.upper)
    within = measure_within(values, limits.lower, limits.upper)
    row = replace(
        bare,
        capability=found,
        within=within,
        made=tuple((one.stove, one.captured_at) for one in read),
        normal_p=_find_normality(check, values),
        percentile_ppk=find_percentile_ppk(values, limits.lower, limits.upper),
        division=_divide(check, read, found, templates),
        why_no_risk=_why_no_risk(check, found),
    )
    if row.why_no_risk:
        return row
    risks, outside = _weigh(check, Limits(limits.lower, limits.upper), found, values)
    return replace(row, risks=risks, outside=outside)


def _find_normality(check: NumberCheck, values: Sequence[float]) -> float | None:
    if len(values) < FEWEST_FOR_NORMALITY:
        return None
    return normality_p(part_ties(values, float(check.resolution)))


def _why_not(values: Sequence[float], limits: CheckLimits | None, min_count: int) -> str:
    if limits is None or (limits.lower is None and limits.upper is None):
        return phrase("the check has no limit at this size")
    if len(values) < min_count:
        return phrase(
            "%(readings)s readings are too few; %(needed)s are needed",
            readings=len(values),
            needed=min_count,
        )
    return phrase("all readings are equal") if len(set(values)) == 1 else ""


def _why_no_risk(check: NumberCheck, found: Capability) -> str:
    u = check.uncertainty / COVERAGE
    if u == 0:
        return phrase("the uncertainty of the tool is not given, so the risk cannot be calculated")
    if u**2 > MAX_MEASURING * found.s**2:
        return phrase(
            "the stated uncertainty alone explains the spread of the readings: the stoves differ "
            "less than the tool can tell"
        )
    return ""


def _weigh(
    check: NumberCheck, limits: Limits, found: Capability, values: Sequence[float]
) -> tuple[tuple[RuleRisk, ...], Range]:
    factor = 1.0 if check.guard_factor is None else float(check.guard_factor)
    spreads = _list_spreads(check, found, values)
    rules = []
    for rule, accepted in (
        ("simple", limits),
        ("guarded", guard_limits(limits, check.uncertainty, factor)),
    ):
        risks = [verdict_risks(spread, limits, accepted, check.uncertainty) for spread in spreads]
        passed, failed = _range(risks, "wrongly_passed"), _range(risks, "wrongly_failed")
        rules.append(RuleRisk(rule, accepted, passed, failed))
    # What lies outside the limits does not depend on the rule.
    return tuple(rules), _range(risks, "outside")


def _list_spreads(
    check: NumberCheck, found: Capability, values: Sequence[float]
) -> list[ObservedSpread]:
    """The seen spread less that of measuring; then the same moved and widened to the ends of the 95
    % intervals of mean and spread, which is what the few readings leave open.
    """
    middle = find_observed_spread(values, check.uncertainty / COVERAGE)
    half = two_sided_z(0.95) * found.s / sqrt(found.n)
    spread = spread_interval(found.s, found.n)
    corners = [
        middle.move(side * half, end / found.s)
        for side in (-1, 1)
        for end in (spread.low, spread.high)
    ]
    return [middle, *corners]


def _range(found: Sequence[VerdictRisks], name: str) -> Range:
    values = [min(1.0, max(0.0, getattr(one, name))) for one in found]
    return Range(values[0], min(values), max(values))


def _divide(
    check: NumberCheck,
    observations: Sequence[CheckObservation],
    found: Capability,
    templates: Sequence[Template],
) -> Division:
    by_artisan: dict[str, list[float]] = {}
    by_template: dict[str, list[float]] = {}
    own = [template for template in templates if template.step == check.step]
    is_load = all(observation.stage == LOAD_STAGE for observation in observations)
    for observation in observations:
        if observation.artisan is not None and observation.value is not None:
            by_artisan.setdefault(observation.artisan, []).append(observation.value)
            named = next(
                (template.name for template in own if observation.artisan in template.artisans),
                observation.artisan,
            )
            by_template.setdefault(named, []).append(observation.value)
    measuring = min(1.0, (check.uncertainty / COVERAGE) ** 2 / found.s**2)
    artisans = _share(by_artisan.values())
    between = artisans.between.value if artisans else 0.0
    return Division(
        measuring=measuring,
        artisans=artisans,
        templates=_share(by_template.values()) if own and not is_load else None,
        rest=max(0.0, 1 - measuring - between),
        by_artisan=tuple(
            (code, len(values), sum(values) / len(values))
            for code, values in sorted(by_artisan.items())
        ),
    )


def share_of_measuring(found: ReadingAgreement, seen: Capability) -> Range:
    """Of the variance seen in the yard, what an agreement study of the same check gives to
    measuring.

    The ends are those of the study's own interval; that of the yard's spread is left out.
    """
    measuring = found.study.measuring
    value, low, high = (
        min(1.0, end**2 / seen.s**2) for end in (measuring.value, measuring.low, measuring.high)
    )
    return Range(value, low, high)


def _share(groups: Iterable[Sequence[float]]) -> VarianceShare | None:
    kept = [group for group in groups if len(group) > 1]
    spread = {value for group in kept for value in group}
    return find_variance_share(kept) if len(kept) > 1 and len(spread) > 1 else None
