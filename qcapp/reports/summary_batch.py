"""What a summary is about: the batch, the order it is made for, the checks with their limits, the
agreed plan.
"""

from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.inspection.batch_facts import BatchFacts
from qcapp.inspection.not_asked import list_not_asked
from qcapp.reports.plan import AgreedPlan, Limit
from qcapp.reports.summary_measures import as_decimal, as_plain
from qcapp.reports.totals import BatchTotals
from qcapp.stats.operating import find_outgoing_limit


def describe_batch(facts: BatchFacts, totals: BatchTotals) -> dict[str, Any]:
    batch = facts.batch
    shared = {
        key: batch[key] for key in ("code", "title", "size", "attributes", "opened_on", "closed_at")
    }
    return {**shared, "offered": totals.stoves["offered"]}


def describe_order(facts: BatchFacts, totals: BatchTotals) -> dict[str, Any]:
    """The buyer's order, null where nobody named it, beside what the yard has to deliver; on which
    days (UTC) stoves were inspected.
    """
    batch, stoves = facts.batch, totals.stoves
    released = ("released_at_once", "released_later", "concession")
    return {
        "number": batch["order_no"] or None,
        "contract": batch["contract_no"] or None,
        "ordered": batch["ordered"],
        "released": sum(stoves[key] for key in released),
        "inspected_from": facts.inspected_on[0] if facts.inspected_on else None,
        "inspected_to": facts.inspected_on[1] if facts.inspected_on else None,
    }


def list_checks(facts: BatchFacts) -> list[dict[str, Any]]:
    """Every check that a stove of this batch is asked by the checklist most were inspected with,
    with the limits of its size; unit and limits are null where nothing is measured.
    """
    left_out = list_not_asked(facts.checklist, facts.batch)
    return [
        _describe_check(check, facts.batch["size"])
        for check in facts.checklist.checks
        if check.id not in left_out
    ]


def _describe_check(check: Check, size: str) -> dict[str, Any]:
    limits = check.limits_for(size) if isinstance(check, NumberCheck) else None
    ends = {
        name: getattr(limits, name) if limits else None for name in ("lower", "nominal", "upper")
    }
    return {
        "check": check.id,
        "ask": check.ask["en"],
        "part": check.part,
        "severity": check.severity,
        "unit": check.unit if isinstance(check, NumberCheck) else None,
        **{name: None if end is None else as_plain(end) for name, end in ends.items()},
    }


def describe_checklists(facts: BatchFacts) -> dict[str, Any]:
    first, *others = [
        {"id": one.id, "revision": one.revision, "hash": key, "title": one.title["en"]}
        for key, one in facts.checklists.items()
    ]
    return {"checklist": first, "other_checklists": others}


def describe_plan(plan: AgreedPlan) -> dict[str, Any]:
    shared = {
        key: getattr(plan, key)
        for key in ("inspect", "lot", "level", "regime", "letter", "seed", "agreed_at", "agreed_by")
    }
    return {
        **shared,
        "sample": list(plan.sample),
        "limits": [_describe_limit(limit, plan) for limit in plan.limits],
    }


def _describe_limit(limit: Limit, plan: AgreedPlan) -> dict[str, Any]:
    worst = find_outgoing_limit_of(limit, plan)
    return {**vars(limit), "outgoing_limit": None if worst is None else as_decimal(worst, 4)}


def find_outgoing_limit_of(limit: Limit, plan: AgreedPlan) -> float | None:
    """Worst average share that goes out (AOQL); None where every stove is looked at for it."""
    if plan.inspect == "every" or limit.aql is None or limit.n >= plan.lot:
        return None
    return find_outgoing_limit(plan.lot, limit.n, limit.ac).outgoing
