"""The faults of a summary, as its first passes found them: by place, by kind, and what was said not
to apply.
"""

from typing import Any

from qcapp.checklist.history import CheckRef
from qcapp.inspection.batch_facts import BatchFacts
from qcapp.inspection.judge import judge_check
from qcapp.inspection.terms import FAULTS


def list_parts(facts: BatchFacts) -> list[dict[str, Any]]:
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


def list_causes(facts: BatchFacts) -> list[dict[str, Any]]:
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


def list_not_applied(facts: BatchFacts) -> dict[str, Any]:
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
