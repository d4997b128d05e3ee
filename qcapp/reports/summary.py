"""The issued summary of a batch: facts -> one JSON document (qcapp/reports/summary.schema.json).

Whole numbers for counts, decimal text for everything measured, sentences as data
(summary_messages.py), so that its canonical JSON is the same in every language. No maker stands in
it.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from qcapp.checklist.history import CheckRef
from qcapp.inspection.batch_facts import BatchFacts, ServerEvent
from qcapp.inspection.judge import judge_check
from qcapp.inspection.terms import FAULTS
from qcapp.reports.decision import BatchDecision, SeverityResult, select_fully_inspected
from qcapp.reports.earlier import describe_earlier
from qcapp.reports.plan import AgreedPlan, Limit
from qcapp.reports.summary_changes import list_changes
from qcapp.reports.summary_measures import as_decimal, list_measures, list_tools
from qcapp.reports.summary_messages import CATALOGUE, CAUTIONS, FORMAT
from qcapp.reports.summary_statements import compare_recheck, promise_batch
from qcapp.reports.totals import BatchTotals, count_stoves, divide_faults
from qcapp.stats.operating import find_outgoing_limit
from qcapp.stats.per_unit import rate_per_unit
from qcapp.stats.proportion import wilson_interval

MAKER = "[maker]"


@dataclass(frozen=True)
class Issue:
    """Who issues what when. previous: the document it replaces; previous_sha256: its name.

    log_proof: "checkpoint", a signed one of the log that it rests on; "grew_from", where there is
    an earlier summary: the record that it rested on and the proof that the log only grew since.
    """

    yard_name: str
    issued_at: str
    issued_by: str
    previous: Mapping[str, Any] | None = None
    previous_sha256: str | None = None
    log_proof: Mapping[str, Any] = field(default_factory=dict)


def build_summary(
    facts: BatchFacts,
    plan: AgreedPlan,
    decision: BatchDecision,
    issue: Issue,
    makers: Iterable[str],
) -> dict[str, Any]:
    """The document. makers: codes and names that a buyer must not see in anyone's reason."""
    hide = build_mask(makers)
    totals = count_totals(facts, plan)
    previous = issue.previous
    document = {
        "format": FORMAT,
        "messages": CATALOGUE,
        "yard": {"name": issue.yard_name, "server_id": facts.server_id},
        "batch": _describe_batch(facts, totals),
        "number": previous["number"] + 1 if previous else 1,
        "issued_at": issue.issued_at,
        "issued_by": issue.issued_by,
        "replaces": {"number": previous["number"], "sha256": issue.previous_sha256}
        if previous
        else None,
        "changes": [],
        "rests_on": {
            "seq": facts.rests_on[0],
            "chain": facts.rests_on[1],
            **issue.log_proof,
        },
        **_describe_checklists(facts),
        "plan": _describe_plan(plan),
        "counts": dict(totals.stoves),
        "faults": {"total": totals.faults, **totals.by["severity"]},
        **_describe_first_passes(facts, plan),
        "earlier": describe_earlier(facts, plan),
        "severities": [_describe_result(result) for result in decision.results],
        "decision": _describe_decision(decision, hide),
        "promise": promise_batch(facts, plan),
        "drawing": facts.checklist.drawing,
        "parts": _list_parts(facts),
        "causes": _list_causes(facts),
        "measures": list_measures(facts),
        "concessions": [
            {
                "serial": end.serial,
                "reason": hide(end.reason) if end.reason else None,
                "photos": list(facts.photos.get(end.serial, ())),
            }
            for end in facts.ends
            if end.disposition == "concession"
        ],
        "not_released": [
            {
                "serial": end.serial,
                "disposition": end.disposition,
                "reason": hide(end.reason) if end.reason else None,
            }
            for end in facts.ends
            if end.disposition != "concession"
        ],
        "inspectors": [
            {"code": code, "stoves": stoves} for code, stoves in facts.inspectors.items()
        ],
        "tools": list_tools(facts),
        "recheck": _describe_recheck(facts, plan),
        "cautions": [caution().to_json() for caution in CAUTIONS],
        **_list_not_applied(facts),
    }
    return {**document, "changes": list_changes(previous, document)} if previous else document


def build_mask(makers: Iterable[str]) -> Callable[[str], str]:
    """A function that puts MAKER where a code or name of an artisan stands as a word of its own."""
    names = sorted((re.escape(name) for name in makers if name), key=len, reverse=True)
    if not names:
        return lambda text: text
    pattern = re.compile(rf"(?<!\w)(?:{'|'.join(names)})(?!\w)", re.IGNORECASE)
    return lambda text: pattern.sub(MAKER, text)


def _describe_batch(facts: BatchFacts, totals: BatchTotals) -> dict[str, Any]:
    batch = facts.batch
    shared = {
        key: batch[key] for key in ("code", "title", "size", "attributes", "opened_on", "closed_at")
    }
    return {**shared, "offered": totals.stoves["offered"]}


def _describe_checklists(facts: BatchFacts) -> dict[str, Any]:
    first, *others = [
        {"id": one.id, "revision": one.revision, "hash": key, "title": one.title["en"]}
        for key, one in facts.checklists.items()
    ]
    return {"checklist": first, "other_checklists": others}


def _describe_plan(plan: AgreedPlan) -> dict[str, Any]:
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


def _describe_first_passes(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any]:
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


def _describe_result(result: SeverityResult) -> dict[str, Any]:
    return {
        "severity": result.severity,
        "of": result.of,
        "failed": result.failed,
        **describe_rate(result.failed, result.of),
        "ac": result.ac,
        "is_met": result.is_met,
    }


def _describe_decision(decision: BatchDecision, hide: Callable[[str], str]) -> dict[str, Any]:
    event = decision.overruled
    overruled = (
        {"by": event.by, "at": event.at, "reason": hide(event.body["reason"])} if event else None
    )
    return {
        "computed": decision.computed,
        "reasons": [reason.to_json() for reason in decision.reasons],
        "final": decision.final,
        "overruled": overruled,
    }


def _list_parts(facts: BatchFacts) -> list[dict[str, Any]]:
    counts: dict[str, dict[str, int]] = {}
    for group in facts.results:
        if group.is_fail:
            part = counts.setdefault(group.part, {"critical": 0, "major": 0, "minor": 0})
            part[group.severity] += group.count
    titles = {
        part.id: part.title["en"]
        for checklist in facts.checklists.values()
        for part in checklist.parts
    }
    rows = [
        {"part": part, "title": titles.get(part, part), "failed": sum(found.values()), **found}
        for part, found in counts.items()
    ]
    return sorted(rows, key=lambda row: (-row["failed"], row["part"]))


def _list_not_applied(facts: BatchFacts) -> dict[str, Any]:
    """Checks that an inspector said do not apply to a stove; absent where nobody did.

    A check that the batch as a whole is not asked (its paint) was said by nobody.
    """
    context = {"size": facts.batch["size"], "batch": facts.batch["attributes"]}
    said: dict[tuple[str, str], int] = {}
    for group in facts.results:
        if group.verdict == "not_applicable":
            key = (group.checklist_hash, group.check_id)
            said[key] = said.get(key, 0) + group.count
    rows: dict[CheckRef, dict[str, Any]] = {}
    for (checklist_hash, check_id), count in said.items():
        check = facts.checklists[checklist_hash].check_by_id[check_id]
        if not check.may_not_apply or judge_check(check, {}, context).verdict == "not_applicable":
            continue
        row = {"check": check_id, "ask": check.ask["en"], "severity": check.severity, "stoves": 0}
        ref = CheckRef(facts.checklists[checklist_hash].id, check_id)
        rows.setdefault(ref, row)["stoves"] += count
    ordered = sorted(rows.values(), key=lambda row: (-row["stoves"], row["check"]))
    return {"not_applied": ordered} if ordered else {}


def _list_causes(facts: BatchFacts) -> list[dict[str, Any]]:
    counted_checks: dict[CheckRef, int] = {}
    failed: dict[tuple[CheckRef, str, str, str | None], int] = {}
    for group in facts.results:
        ref = CheckRef(facts.checklists[group.checklist_hash].id, group.check_id)
        if group.verdict in ("pass", "fail", "doubtful"):
            counted_checks[ref] = counted_checks.get(ref, 0) + group.count
        if group.is_fail:
            key = (ref, group.part, group.severity, group.fault)
            failed[key] = failed.get(key, 0) + group.count
    checks = facts.history.checks
    rows: list[dict[str, Any]] = []
    for (ref, part, severity, fault), count in failed.items():
        titles = {**FAULTS, **{one.id: one.title["en"] for one in checks[ref].faults}}
        rows.append(
            {
                "check": ref.check,
                "ask": checks[ref].ask["en"],
                "part": part,
                "severity": severity,
                "fault": fault and str(titles.get(fault, fault)),
                "failed": count,
                "of": counted_checks[ref],
            }
        )
    rows.sort(key=lambda row: (-row["failed"], row["check"], row["fault"] or ""))
    return rows


def _describe_recheck(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any] | None:
    event: ServerEvent | None = facts.find_last("recheck")
    return compare_recheck(facts, plan, event) if event else None
