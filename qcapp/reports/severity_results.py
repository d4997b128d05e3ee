"""What was found of each severity, at the stoves that the plan looks at."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.inspection.batch_facts import BatchFacts, StovePass
from qcapp.inspection.serial import serial_key
from qcapp.reports.plan import AgreedPlan
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class SeverityResult:
    """Stoves with at least one fault of a severity at first pass: failed of those the plan looks
    at.
    """

    severity: str
    of: int
    failed: int
    interval: Interval | None
    ac: int
    re: int
    is_met: bool


def select_members(
    stoves: Sequence[StovePass], plan: AgreedPlan | None, severity: str
) -> list[StovePass]:
    """First passes that the plan looks at for this severity: all, or the first n drawn.

    plan None: every stove.
    """
    if plan is None or plan.inspect == "every" or severity == "critical":
        return list(stoves)
    drawn = set(map(serial_key, plan.sample[: plan.find_limit(severity).n]))
    return [stove for stove in stoves if serial_key(stove.serial) in drawn]


def select_looked_at(
    stoves: Sequence[StovePass], plan: AgreedPlan | None, severity: str
) -> list[StovePass]:
    """Of these the ones that belong into the severity's denominator."""
    return [
        stove for stove in select_members(stoves, plan, severity) if stove.is_looked_at(severity)
    ]


def select_fully_inspected(stoves: Sequence[StovePass], plan: AgreedPlan | None) -> list[StovePass]:
    """First passes that tell good from bad: every check was looked at, or a fault was found.

    Of a sample only its members: a stove outside it is fully inspected only when its short check
    found a fault, which would make the rest look worse than they are.
    """
    drawn = {
        stove.serial
        for severity in ("major", "minor")
        for stove in select_members(stoves, plan, severity)
    }
    return [
        stove
        for stove in stoves
        if stove.serial in drawn and (stove.has_fail or not any(stove.missing.values()))
    ]


def has_critical_checks(facts: BatchFacts) -> bool:
    """Whether any checklist of the batch looks for faults that can hurt someone; that of blanks, or
    of a green liner, need not.
    """
    checks = (check for one in facts.checklists.values() for check in one.checks)
    return any(check.severity == "critical" for check in checks)


def count_severity(facts: BatchFacts, plan: AgreedPlan, severity: str) -> SeverityResult:
    looked_at = select_looked_at(facts.stoves, plan, severity)
    failed = sum(stove.failed[severity] > 0 for stove in looked_at)
    limit = plan.find_limit(severity)
    is_every = plan.inspect == "every"
    is_met = count_open(facts, severity) == 0 if is_every else failed < limit.re
    return SeverityResult(
        severity,
        len(looked_at),
        failed,
        wilson_interval(failed, len(looked_at)) if looked_at else None,
        limit.ac,
        limit.re,
        is_met,
    )


def count_open(facts: BatchFacts, severity: str) -> int:
    """Released stoves with a fault that no concession covers; one that can hurt someone is never
    covered.
    """
    simply, conceded = (
        facts.open_fails["release"][severity],
        facts.open_fails["concession"][severity],
    )
    return simply + (conceded if severity == "critical" else 0)
