"""May this batch be taken? Computed from what was found, by the agreed plan, with the reasons as
data.

A sample decides on the first presentation: what was found at first pass at each stove, whatever was
repaired since. Where every stove is inspected, what counts is what is released now.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.errors import BadInput
from qcapp.i18n.messages import Message, Sentence
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.batch_facts import SEVERITIES, BatchFacts, ServerEvent, StovePass
from qcapp.inspection.serial import serial_key
from qcapp.reports import decision_reasons as why
from qcapp.reports.plan import AgreedPlan
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

SAMPLE_RULE = phrase(
    "With a sample, the first pass of each stove decides, whatever was repaired later. A "
    "rejected batch can be offered again once every stove has been inspected: agree on that as "
    "its plan."
)
EVERY_RULE = phrase(
    "As every stove is to be inspected, the decision is about the stoves as they are now: each "
    "one released, released by concession with a stated reason, or scrapped; "
    "none waiting, none with an open fault that can hurt someone. Scrapped stoves stay with the "
    "yard."
)
MAX_SERIALS = 12


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
    results = tuple(_count(facts, plan, severity) for severity in SEVERITIES)
    if facts.inspected == 0:
        computed, reasons = "not_ready", [why.NONE_INSPECTED()]
    elif plan.inspect == "sample":
        computed, reasons = _decide_sample(facts, plan, results)
        reasons += _list_doubts(facts, plan)
    else:
        computed, reasons = _decide_every(facts, plan)
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
        _find_result(plan, computed, results),
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
    if final == "accept" and _count_open(facts, "critical"):
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


def _count(facts: BatchFacts, plan: AgreedPlan, severity: str) -> SeverityResult:
    looked_at = select_looked_at(facts.stoves, plan, severity)
    failed = sum(stove.failed[severity] > 0 for stove in looked_at)
    limit = plan.find_limit(severity)
    is_every = plan.inspect == "every"
    is_met = _count_open(facts, severity) == 0 if is_every else failed < limit.re
    return SeverityResult(
        severity,
        len(looked_at),
        failed,
        wilson_interval(failed, len(looked_at)) if looked_at else None,
        limit.ac,
        limit.re,
        is_met,
    )


def _count_open(facts: BatchFacts, severity: str) -> int:
    """Released stoves with a fault that no concession covers; one that can hurt someone is never
    covered.
    """
    simply, conceded = (
        facts.open_fails["release"][severity],
        facts.open_fails["concession"][severity],
    )
    return simply + (conceded if severity == "critical" else 0)


def _decide_sample(
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
        reasons.append(why.SAMPLE_NOT_WHOLE(n=len(open_serials), serials=_shorten(open_serials)))
    left = plan.lot - results[0].of if has_critical_checks(facts) else 0
    if left > 0:
        reasons.append(why.CRITICAL_NOT_LOOKED_AT(n=left))
    if open_serials or left > 0:
        return "not_ready", reasons
    waiting = facts.dispositions.get("rework", 0) + facts.dispositions.get("hold", 0)
    if waiting:
        reasons.append(why.FAULTY_WAITS(n=waiting))
    return "accept", reasons


def _list_doubts(facts: BatchFacts, plan: AgreedPlan) -> list[Message]:
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


def _decide_every(facts: BatchFacts, plan: AgreedPlan) -> tuple[str, list[Message]]:
    counts = facts.dispositions
    conceded, scrapped = counts.get("concession", 0), counts.get("scrap", 0)
    released = counts.get("release", 0) + conceded
    critical = _count_open(facts, "critical")
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
        gaps.append(why.RELEASED_UNCHECKED(n=len(unseen), serials=_shorten(unseen)))
    unasked = sum(not stove.is_asked("critical") for stove in facts.stoves)
    if unasked and has_critical_checks(facts):
        gaps.append(why.CRITICAL_NOT_LOOKED_AT(n=unasked))
    gaps += _list_counted(
        (why.OPEN_MAJOR, _count_open(facts, "major")),
        (why.OPEN_MINOR, _count_open(facts, "minor")),
    )
    return gaps


def _list_counted(*counts: tuple[Sentence, int]) -> list[Message]:
    return [sentence(n=n) for sentence, n in counts if n]


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


def _find_result(
    plan: AgreedPlan, computed: str, results: tuple[SeverityResult, ...]
) -> str | None:
    if plan.inspect != "sample" or computed == "not_ready":
        return None
    if computed == "reject":
        return "rejected"
    return "gap" if any(result.failed > result.ac for result in results) else "accepted"


def _shorten(serials: list[str]) -> list[str] | Message:
    shown, more = serials[:MAX_SERIALS], len(serials) - MAX_SERIALS
    return why.AND_MORE(shown=shown, more=more) if more > 0 else shown
