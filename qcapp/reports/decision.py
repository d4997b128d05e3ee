"""May this batch be taken? Computed from what was found, by the agreed plan, with the reasons as
data; and a person's word against it.
"""

from dataclasses import dataclass
from typing import Any

from qcapp.errors import BadInput
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.batch_facts import SEVERITIES, BatchFacts, ServerEvent
from qcapp.reports import decision_reasons as why
from qcapp.reports.every_stove_decision import EVERY_RULE, decide_every
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.sample_decision import SAMPLE_RULE, decide_sample, find_result, list_doubts
from qcapp.reports.severity_results import (
    SeverityResult,
    count_open,
    count_severity,
    has_critical_checks,
)


@dataclass(frozen=True)
class BatchDecision:
    """computed, final: accept, reject or not_ready. overruled: the event of the person, or None.

    result: accepted, gap or rejected for the stages of the next batches; None where it does not
    count.
    """

    computed: str
    reasons: tuple[Message, ...]
    final: str
    overruled: ServerEvent | None
    results: tuple[SeverityResult, ...]
    rule: Phrase
    result: str | None


def decide(facts: BatchFacts, plan: AgreedPlan) -> BatchDecision:
    results = tuple(count_severity(facts, plan, severity) for severity in SEVERITIES)
    if facts.inspected == 0:
        computed, reasons = "not_ready", [why.NONE_INSPECTED()]
    elif plan.inspect == "sample":
        computed, reasons = decide_sample(facts, plan, results)
        reasons += list_doubts(facts, plan)
    else:
        computed, reasons = decide_every(facts, plan)
    if facts.inspected and not has_critical_checks(facts):
        reasons.append(why.NO_CRITICAL_CHECKS())
    if facts.quarantined:
        reasons.append(why.RECORDS_QUARANTINED(n=facts.quarantined))
    overruled = _find_overruling(facts, computed, reasons)
    final = overruled.body["final"] if overruled else computed
    rule = SAMPLE_RULE if plan.inspect == "sample" else EVERY_RULE
    return BatchDecision(
        computed,
        tuple(reasons),
        final,
        overruled,
        results,
        rule,
        find_result(plan, computed, results),
    )


def build_overruling(
    facts: BatchFacts, decision: BatchDecision, final: str, reason: str
) -> dict[str, Any]:
    """The body of the event that overrules. Raises BadInput without a reason, and where it could
    hurt someone.
    """
    if final not in ("accept", "reject", "not_ready") or final == decision.computed:
        what = phrase(
            "%(final)s does not overrule %(computed)s",
            final=repr(final),
            computed=repr(decision.computed),
        )
        raise BadInput(what, "final", phrase("choose another decision than the computed one"))
    if not reason.strip():
        raise BadInput(
            phrase("overruling a decision needs a reason"),
            "reason",
            phrase("write why; the summary shows it"),
        )
    if final == "accept" and count_open(facts, "critical"):
        raise BadInput(
            phrase("stoves with an open fault that can hurt someone cannot be accepted"),
            "final",
            phrase("repair or scrap them first"),
        )
    return {
        "computed": decision.computed,
        "reasons": [reason.to_json() for reason in decision.reasons],
        "final": final,
        "reason": reason.strip(),
    }


def _find_overruling(
    facts: BatchFacts, computed: str, reasons: list[Message]
) -> ServerEvent | None:
    """A person's word holds only for the state it was given on: any later change takes it away."""
    event = facts.find_last("decision")
    if (
        event is None
        or event.body["computed"] != computed
        or event.body["reasons"] != [reason.to_json() for reason in reasons]
        or event.body["final"] == computed
    ):
        return None
    return event
