"""How often a verdict on one check is wrong because of measuring, under the simple and the guarded
rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from qcapp.checklist.base_check import NumberCheck
from qcapp.i18n.phrase import phrase
from qcapp.stats.capability import Capability, spread_interval
from qcapp.stats.normal import two_sided_z
from qcapp.stats.observed_spread import ObservedSpread, find_observed_spread
from qcapp.stats.uncertainty import COVERAGE, Limits, VerdictRisks, guard_limits, verdict_risks

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


def say_why_no_risk(check: NumberCheck, found: Capability) -> str:
    """In words, why no risk can be given; else ""."""
    u = check.uncertainty / COVERAGE
    if u == 0:
        return phrase("the uncertainty of the tool is not given, so the risk cannot be calculated")
    if u**2 > MAX_MEASURING * found.s**2:
        return phrase(
            "the stated uncertainty alone explains the spread of the readings: the stoves differ "
            "less than the tool can tell"
        )
    return ""


def weigh_rules(
    check: NumberCheck, limits: Limits, found: Capability, values: Sequence[float]
) -> tuple[tuple[RuleRisk, ...], Range]:
    """The risks under each rule, and the share of stoves that lies outside the limits."""
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
