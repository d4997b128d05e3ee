"""The yard lead's question: does the making fit its limits, and does the tool fit the question?"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from qcapp.checklist.base_check import Limits as CheckLimits
from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import ChecklistHistory, CheckRef, Criteria
from qcapp.i18n.phrase import phrase
from qcapp.i18n.units import name_unit
from qcapp.inspection.observations import CheckObservation
from qcapp.reports.control_row import ControlRow
from qcapp.reports.reading_charts import build_order_chart
from qcapp.reports.row_groups import Template
from qcapp.reports.variance_division import Division, divide_variance
from qcapp.reports.verdict_risk import Range, RuleRisk, say_why_no_risk, weigh_rules
from qcapp.stats.capability import (
    Capability,
    find_percentile_ppk,
    measure_capability,
    normality_p,
    part_ties,
)
from qcapp.stats.uncertainty import Limits
from qcapp.stats.within_capability import WithinCapability, measure_within

# A p below this: the readings are not normal, and shares worked out as if they were would mislead.
NOT_NORMAL_P = 0.01
FEWEST_FOR_NORMALITY = 8


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
        division=divide_variance(check, read, found, templates),
        why_no_risk=say_why_no_risk(check, found),
    )
    if row.why_no_risk:
        return row
    risks, outside = weigh_rules(check, Limits(limits.lower, limits.upper), found, values)
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
