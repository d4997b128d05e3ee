"""The issued summary of a batch: facts -> one JSON document (qcapp/reports/summary.schema.json).

Whole numbers for counts, decimal text for everything measured, sentences as data
(summary_messages.py), so that its canonical JSON is the same in every language. No maker stands in
it.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from qcapp.inspection.batch_facts import BatchFacts
from qcapp.reports.decision import BatchDecision
from qcapp.reports.earlier import describe_earlier
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.summary_batch import (
    describe_batch,
    describe_checklists,
    describe_order,
    describe_plan,
    list_checks,
)
from qcapp.reports.summary_changes import list_changes
from qcapp.reports.summary_faults import list_causes, list_not_applied, list_parts
from qcapp.reports.summary_measures import list_measures, list_tools
from qcapp.reports.summary_messages import CATALOGUE, CAUTIONS, FORMAT
from qcapp.reports.summary_recheck import compare_recheck
from qcapp.reports.summary_statements import promise_batch
from qcapp.reports.summary_stoves import (
    count_totals,
    describe_first_passes,
    describe_result,
    list_concessions,
    list_not_released,
    list_serials,
)

MAKER = "[maker]"


@dataclass(frozen=True)
class Yard:
    """What a summary tells of the yard. signatory: who answers for it, with his or her role;
    contact: whom to ask; claims: how to claim. Empty where the lead has given none.
    """

    name: str
    signatory: str = ""
    signatory_role: str = ""
    contact: str = ""
    claims: str = ""


@dataclass(frozen=True)
class Issue:
    """Who issues what when. previous: the document it replaces; previous_sha256: its name.

    log_proof: "checkpoint", a signed one of the log that it rests on; "grew_from", where there is
    an earlier summary: the record that it rested on and the proof that the log only grew since.
    """

    yard: Yard
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
        **_describe_issue(issue, facts),
        "batch": describe_batch(facts, totals),
        "order": describe_order(facts, totals),
        **describe_checklists(facts),
        "checks": list_checks(facts),
        "plan": describe_plan(plan),
        "counts": dict(totals.stoves),
        "serials": list_serials(facts),
        "faults": {"total": totals.faults, **totals.by["severity"]},
        **describe_first_passes(facts, plan),
        "earlier": describe_earlier(facts, plan),
        "severities": [describe_result(result) for result in decision.results],
        "decision": _describe_decision(decision, hide),
        "promise": promise_batch(facts, plan),
        "drawing": facts.checklist.drawing,
        "parts": list_parts(facts),
        "causes": list_causes(facts),
        "measures": list_measures(facts),
        "concessions": list_concessions(facts, hide),
        "not_released": list_not_released(facts, hide),
        "inspectors": [
            {"code": code, "stoves": stoves} for code, stoves in facts.inspectors.items()
        ],
        "tools": list_tools(facts),
        "recheck": compare_recheck(facts, plan),
        "cautions": [caution().to_json() for caution in CAUTIONS],
        **list_not_applied(facts),
    }
    return {**document, "changes": list_changes(previous, document)} if previous else document


def _describe_issue(issue: Issue, facts: BatchFacts) -> dict[str, Any]:
    """signatory, contact and claims are absent where the yard has given none."""
    previous, yard = issue.previous, issue.yard
    signatory = {"name": yard.signatory, "role": yard.signatory_role} if yard.signatory else None
    said = {"signatory": signatory, "contact": yard.contact, "claims": yard.claims}
    return {
        "format": FORMAT,
        "messages": CATALOGUE,
        "yard": {"name": yard.name, "server_id": facts.server_id},
        "number": previous["number"] + 1 if previous else 1,
        "issued_at": issue.issued_at,
        "issued_by": issue.issued_by,
        **{key: value for key, value in said.items() if value},
        "replaces": {"number": previous["number"], "sha256": issue.previous_sha256}
        if previous
        else None,
        "changes": [],
        "rests_on": {
            "seq": facts.rests_on[0],
            "chain": facts.rests_on[1],
            **issue.log_proof,
        },
    }


def build_mask(makers: Iterable[str]) -> Callable[[str], str]:
    """A function that puts MAKER where a code or name of an artisan stands as a word of its own."""
    names = sorted((re.escape(name) for name in makers if name), key=len, reverse=True)
    if not names:
        return lambda text: text
    pattern = re.compile(rf"(?<!\w)(?:{'|'.join(names)})(?!\w)", re.IGNORECASE)
    return lambda text: pattern.sub(MAKER, text)


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
