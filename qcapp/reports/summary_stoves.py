"""The stoves of a summary: how many, what their first inspections say of the making, what became
of each.
"""

from collections.abc import Callable
from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.inspection.batch_facts import BatchFacts, ConcededFault
from qcapp.inspection.terms import FAULTS
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import SeverityResult, select_fully_inspected
from qcapp.reports.summary_measures import as_decimal, as_plain
from qcapp.reports.totals import BatchTotals, count_stoves, divide_faults
from qcapp.stats.per_unit import rate_per_unit
from qcapp.stats.proportion import wilson_interval


def count_totals(facts: BatchFacts, plan: AgreedPlan) -> BatchTotals:
    by = divide_faults(
        (group.part, group.check_id, group.severity, group.count)
        for group in facts.results
        if group.is_fail
    )
    stoves = count_stoves(
        # More serials than were agreed are offered all the same.
        offered=max(plan.lot, facts.inspected),
        faulty=sum(stove.has_fail for stove in facts.stoves),
        dispositions=facts.dispositions,
        released_later=facts.released_later,
    )
    return BatchTotals(stoves, sum(stove.faults for stove in facts.stoves), by)


def describe_first_passes(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any]:
    """What the fully inspected stoves say of the making."""
    whole = select_fully_inspected(facts.stoves, plan)
    good = sum(not stove.has_fail for stove in whole)
    found = [stove.faults for stove in whole]
    rate = rate_per_unit(found) if found else None
    return {
        "first_pass": {"good": good, "of": len(whole), **describe_rate(good, len(whole))},
        "per_stove": {
            "faults": sum(found),
            "of": len(whole),
            **{
                name: None if rate is None else as_decimal(getattr(rate, name), 2)
                for name in ("value", "low", "high")
            },
        },
    }


def describe_rate(count: int, of: int) -> dict[str, Any]:
    if of == 0:
        return {"rate": None, "low": None, "high": None}
    interval = wilson_interval(count, of)
    return {
        "rate": as_decimal(count / of, 4),
        "low": as_decimal(interval.low, 4),
        "high": as_decimal(interval.high, 4),
    }


def describe_result(result: SeverityResult) -> dict[str, Any]:
    return {
        "severity": result.severity,
        "of": result.of,
        "failed": result.failed,
        **describe_rate(result.failed, result.of),
        "ac": result.ac,
        "is_met": result.is_met,
    }


def list_serials(facts: BatchFacts) -> dict[str, list[str]]:
    """Every inspected stove once, by what became of it."""
    ends = {end.serial: end.disposition for end in facts.ends}
    found: dict[str, list[str]] = {
        kind: [] for kind in ("release", "concession", "rework", "scrap", "hold")
    }
    for stove in facts.stoves:
        # A damaged disposition has no place here; that the sums then do not hold is told.
        found.setdefault(ends.get(stove.serial, "release"), []).append(stove.serial)
    return found


def list_concessions(facts: BatchFacts, hide: Callable[[str], str]) -> list[dict[str, Any]]:
    """Each with the faults it was released with."""
    return [
        {
            "serial": end.serial,
            "reason": hide(end.reason) if end.reason else None,
            "faults": [
                _describe_fault(fault, facts)
                for fault in facts.conceded_faults
                if fault.serial == end.serial
            ],
            "photos": list(facts.photos.get(end.serial, ())),
        }
        for end in facts.ends
        if end.disposition == "concession"
    ]


def _describe_fault(fault: ConcededFault, facts: BatchFacts) -> dict[str, Any]:
    check = facts.checklists[fault.checklist_hash].check_by_id[fault.check_id]
    titles = {**FAULTS, **{one.id: one.title["en"] for one in check.faults}}
    return {
        "check": fault.check_id,
        "ask": check.ask["en"],
        "part": check.part,
        "severity": fault.severity,
        "fault": fault.fault and str(titles.get(fault.fault, fault.fault)),
        "value": None if fault.value is None else as_plain(round(fault.value, 6)),
        "unit": check.unit if isinstance(check, NumberCheck) and fault.value is not None else None,
    }


def list_not_released(facts: BatchFacts, hide: Callable[[str], str]) -> list[dict[str, Any]]:
    return [
        {
            "serial": end.serial,
            "disposition": end.disposition,
            "reason": hide(end.reason) if end.reason else None,
        }
        for end in facts.ends
        if end.disposition != "concession"
    ]
