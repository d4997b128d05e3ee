"""A sample decides on the first presentation: what was found at first pass at each stove, whatever
was repaired since.
"""

from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import BatchFacts
from qcapp.inspection.serial import serial_key
from qcapp.reports import decision_reasons as why
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import SeverityResult, has_critical_checks

SAMPLE_RULE = phrase(
    "With a sample, the first pass of each stove decides, whatever was repaired later. A "
    "rejected batch can be offered again once every stove has been inspected: agree on that as "
    "its plan."
)


def decide_sample(
    facts: BatchFacts, plan: AgreedPlan, results: tuple[SeverityResult, ...]
) -> tuple[str, list[Message]]:
    reasons = [_describe_result(result) for result in results]
    if not all(result.is_met for result in results):
        return "reject", reasons
    wholly_inspected = {
        serial_key(stove.serial) for stove in facts.stoves if not any(stove.missing.values())
    }
    open_serials = [serial for serial in plan.sample if serial_key(serial) not in wholly_inspected]
    if open_serials:
        reasons.append(
            why.SAMPLE_NOT_WHOLE(n=len(open_serials), serials=why.shorten_serials(open_serials))
        )
    left = plan.lot - results[0].of if has_critical_checks(facts) else 0
    if left > 0:
        reasons.append(why.CRITICAL_NOT_LOOKED_AT(n=left))
    if open_serials or left > 0:
        return "not_ready", reasons
    waiting = facts.dispositions.get("rework", 0) + facts.dispositions.get("hold", 0)
    if waiting:
        reasons.append(why.FAULTY_WAITS(n=waiting))
    return "accept", reasons


def list_doubts(facts: BatchFacts, plan: AgreedPlan) -> list[Message]:
    """What lets a sample be less by chance than it looks: drawn again, or drawn when results were
    known.
    """
    doubts = []
    drawn = sum(
        event.kind == "plan" and event.body["inspect"] == "sample" for event in facts.server_events
    )
    if drawn > 1:
        doubts.append(why.DRAWN_AGAIN(drawn=drawn))
    members = set(map(serial_key, plan.sample))
    early = (
        sum(
            serial_key(stove.serial) in members and stove.at < plan.agreed_at
            for stove in facts.stoves
        )
        if plan.agreed_at
        else 0
    )
    if early:
        doubts.append(why.INSPECTED_BEFORE_DRAWN(n=early))
    return doubts


def _describe_result(result: SeverityResult) -> Message:
    found = {"severity": result.severity, "failed": result.failed, "n": result.of}
    if result.ac == 0 and result.re == 1:
        return why.FAULTS_NONE_ACCEPTED(**found)
    return why.FAULTS_AGAINST_LIMITS(**found, ac=result.ac, re=result.re)


def find_result(plan: AgreedPlan, computed: str, results: tuple[SeverityResult, ...]) -> str | None:
    if plan.inspect != "sample" or computed == "not_ready":
        return None
    if computed == "reject":
        return "rejected"
    return "gap" if any(result.failed > result.ac for result in results) else "accepted"
