"""Where every stove is inspected, what counts is what is released now."""

from qcapp.i18n.messages import Message, Sentence
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import BatchFacts
from qcapp.reports import decision_reasons as why
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import count_open, has_critical_checks

EVERY_RULE = phrase(
    "As every stove is to be inspected, the decision is about the stoves as they are now: each "
    "one released, released by concession with a stated reason, or scrapped; "
    "none waiting, none with an open fault that can hurt someone. Scrapped stoves stay with the "
    "yard."
)


def decide_every(facts: BatchFacts, plan: AgreedPlan) -> tuple[str, list[Message]]:
    counts = facts.dispositions
    conceded, scrapped = counts.get("concession", 0), counts.get("scrap", 0)
    released = counts.get("release", 0) + conceded
    critical = count_open(facts, "critical")
    if critical:
        return "reject", [why.RELEASED_WITH_CRITICAL(n=critical)]
    if released == 0 and scrapped == facts.inspected >= plan.lot:
        return "reject", [why.ALL_SCRAPPED()]
    gaps = _list_gaps(facts, plan)
    if gaps:
        return "not_ready", gaps
    whole = why.ALL_INSPECTED(stoves=facts.inspected, released=released, sound=released - conceded)
    exceptions = _list_counted((why.RELEASED_BY_CONCESSION, conceded), (why.SCRAPPED, scrapped))
    return "accept", [whole, *exceptions]


def _list_gaps(facts: BatchFacts, plan: AgreedPlan) -> list[Message]:
    gaps = []
    left = plan.lot - facts.inspected
    if left > 0:
        gaps.append(why.NOT_INSPECTED(n=left, lot=plan.lot))
    gaps += _list_counted(
        (why.WAIT_FOR_REWORK, facts.dispositions.get("rework", 0)),
        (why.WAIT_FOR_DECISION, facts.dispositions.get("hold", 0)),
    )
    unseen = [serial for serial, missing in facts.never_looked.items() if any(missing.values())]
    if unseen:
        gaps.append(why.RELEASED_UNCHECKED(n=len(unseen), serials=why.shorten_serials(unseen)))
    unasked = sum(not stove.is_asked("critical") for stove in facts.stoves)
    if unasked and has_critical_checks(facts):
        gaps.append(why.CRITICAL_NOT_LOOKED_AT(n=unasked))
    gaps += _list_counted(
        (why.OPEN_MAJOR, count_open(facts, "major")),
        (why.OPEN_MINOR, count_open(facts, "minor")),
    )
    return gaps


def _list_counted(*counts: tuple[Sentence, int]) -> list[Message]:
    return [sentence(n=n) for sentence, n in counts if n]
