"""May this batch be taken? Computed from what was found, by the agreed plan, with the reasons in words.

A sample decides on the first presentation: what was found at first pass at each stove, whatever
was mended since. Where every stove is inspected, what counts is what is offered now.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.inspection.batch_facts import SEVERITIES, BatchFacts, ServerEvent, StovePass
from qcapp.reports.plan import AgreedPlan
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

SAMPLE_RULE = phrase(
    "A sample decides on the first presentation: the first pass of each stove counts, whatever was mended since. "
    "A rejected batch can be offered again after every stove has been inspected: agree that as its plan."
)
EVERY_RULE = phrase(
    "Every stove is inspected, so the decision is about what is offered now: every stove released, or by concession with its reason told; "
    "none waiting, none with an open fault that can hurt someone. Scrapped stoves are not offered."
)
MAX_SERIALS = 12
FAULTS_AT_FIRST_PASS = {
    "critical": phrase("Critical faults at first pass"),
    "major": phrase("Major faults at first pass"),
    "minor": phrase("Minor faults at first pass"),
}


@dataclass(frozen=True)
class SeverityResult:
    """Stoves with at least one fault of a severity at first pass: failed of those the plan looks at."""

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

    result: accepted, gap or rejected for the stages of the next batches; None where it does not count.
    """

    computed: str
    reasons: tuple[str, ...]
    final: str
    overruled: ServerEvent | None
    results: tuple[SeverityResult, ...]
    rule: str
    result: str | None


def decide(facts: BatchFacts, plan: AgreedPlan) -> BatchDecision:
    results = tuple(_count(facts, plan, severity) for severity in SEVERITIES)
    if facts.inspected == 0:
        computed, reasons = "not_ready", [phrase("No stove of this batch has been inspected.")]
    elif plan.inspect == "sample":
        computed, reasons = _decide_sample(facts, plan, results)
        reasons += _list_doubts(facts, plan)
    else:
        computed, reasons = _decide_every(facts, plan)
    if facts.quarantined:
        reasons.append(
            phrase_n(
                "%(n)s record of this batch is set aside and counted nowhere until somebody decides.",
                "%(n)s records of this batch are set aside and counted nowhere until somebody decides.",
                facts.quarantined,
            )
        )
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


def build_overruling(facts: BatchFacts, decision: BatchDecision, final: str, reason: str) -> dict:
    """The body of the event that overrules. Raises BadInput without a reason, and where it could hurt someone."""
    if final not in ("accept", "reject", "not_ready") or final == decision.computed:
        what = phrase(
            "%(final)s does not overrule %(computed)s",
            final=repr(final),
            computed=repr(decision.computed),
        )
        raise BadInput(what, "final", phrase("choose another decision than the computed one"))
    if not reason.strip():
        raise BadInput(
            phrase("a decision is overruled only with a reason"),
            "reason",
            phrase("write why; the summary shows it"),
        )
    if final == "accept" and _count_open(facts, "critical"):
        raise BadInput(
            phrase("stoves with an open fault that can hurt someone cannot be accepted"),
            "final",
            phrase("mend or scrap them first"),
        )
    return {
        "computed": decision.computed,
        "reasons": list(decision.reasons),
        "final": final,
        "reason": reason.strip(),
    }


def select_members(facts: BatchFacts, plan: AgreedPlan, severity: str) -> list[StovePass]:
    """First passes that the plan looks at for this severity: all, or the first n drawn."""
    if plan.inspect == "every" or severity == "critical":
        return list(facts.stoves)
    drawn = set(plan.sample[: plan.find_limit(severity).n])
    return [stove for stove in facts.stoves if stove.serial in drawn]


def _count(facts: BatchFacts, plan: AgreedPlan, severity: str) -> SeverityResult:
    counted_checks = [
        stove for stove in select_members(facts, plan, severity) if stove.is_looked_at(severity)
    ]
    failed = sum(stove.failed[severity] > 0 for stove in counted_checks)
    limit = plan.find_limit(severity)
    if plan.inspect == "every":
        is_met = _count_open(facts, severity) == 0
    else:
        is_met = failed < limit.re
    return SeverityResult(
        severity,
        len(counted_checks),
        failed,
        wilson_interval(failed, len(counted_checks)) if counted_checks else None,
        limit.ac,
        limit.re,
        is_met,
    )


def _count_open(facts: BatchFacts, severity: str) -> int:
    """Offered stoves with a fault that no concession covers; one that can hurt someone is never covered."""
    released, conceded = (
        facts.open_fails["release"][severity],
        facts.open_fails["concession"][severity],
    )
    return released + (conceded if severity == "critical" else 0)


def _decide_sample(
    facts: BatchFacts, plan: AgreedPlan, results: tuple[SeverityResult, ...]
) -> tuple[str, list[str]]:
    reasons = [_describe_result(result) for result in results]
    if not all(result.is_met for result in results):
        return "reject", reasons
    by_serial = {stove.serial: stove for stove in facts.stoves}
    open_serials = [
        serial
        for serial in plan.sample
        if serial not in by_serial or any(by_serial[serial].missing.values())
    ]
    if open_serials:
        reasons.append(
            phrase_n(
                "Of the sample %(n)s stove is not wholly inspected yet: %(serials)s.",
                "Of the sample %(n)s stoves are not wholly inspected yet: %(serials)s.",
                len(open_serials),
                serials=_list_serials(open_serials),
            )
        )
    left = plan.lot - results[0].of
    if left > 0:
        reasons.append(
            phrase_n(
                "%(n)s stove is not looked at yet for faults that can hurt someone.",
                "%(n)s stoves are not looked at yet for faults that can hurt someone.",
                left,
            )
        )
    if open_serials or left > 0:
        return "not_ready", reasons
    waiting = facts.dispositions.get("rework", 0) + facts.dispositions.get("hold", 0)
    if waiting:
        reasons.append(
            phrase_n(
                "%(n)s stove found faulty waits and must not go along before passing.",
                "%(n)s stoves found faulty wait and must not go along before passing.",
                waiting,
            )
        )
    return "accept", reasons


def _list_doubts(facts: BatchFacts, plan: AgreedPlan) -> list[str]:
    """What lets a sample be less by chance than it looks: drawn again, or drawn when results were known."""
    doubts = []
    drawn = sum(event.kind == "plan" and event.body["inspect"] == "sample" for event in facts.own)
    if drawn > 1:
        doubts.append(
            phrase(
                "A sample was drawn %(drawn)s times for this batch; the last one counts.",
                drawn=drawn,
            )
        )
    members = set(plan.sample)
    early = (
        sum(stove.serial in members and stove.at < plan.agreed_at for stove in facts.stoves)
        if plan.agreed_at
        else 0
    )
    if early:
        doubts.append(
            phrase_n(
                "%(n)s stove of the sample was inspected before it was drawn.",
                "%(n)s stoves of the sample were inspected before it was drawn.",
                early,
            )
        )
    return doubts


def _describe_result(result: SeverityResult) -> Phrase:
    found = {"faults": FAULTS_AT_FIRST_PASS[result.severity], "failed": result.failed}
    if result.ac == 0 and result.re == 1:
        return phrase_n(
            "%(faults)s in %(failed)s of %(n)s stove; none is accepted.",
            "%(faults)s in %(failed)s of %(n)s stoves; none is accepted.",
            result.of,
            **found,
        )
    return phrase_n(
        "%(faults)s in %(failed)s of %(n)s stove; up to %(ac)s accept, %(re)s or more reject.",
        "%(faults)s in %(failed)s of %(n)s stoves; up to %(ac)s accept, %(re)s or more reject.",
        result.of,
        ac=result.ac,
        re=result.re,
        **found,
    )


def _decide_every(facts: BatchFacts, plan: AgreedPlan) -> tuple[str, list[str]]:
    counts = facts.dispositions
    offered, scrapped = (
        counts.get("release", 0) + counts.get("concession", 0),
        counts.get("scrap", 0),
    )
    critical = _count_open(facts, "critical")
    if critical:
        return "reject", [
            phrase_n(
                "%(n)s stove is offered with an open fault that can hurt someone.",
                "%(n)s stoves are offered with an open fault that can hurt someone.",
                critical,
            )
        ]
    if offered == 0 and scrapped == facts.inspected >= plan.lot:
        return "reject", [phrase("Every stove was scrapped; nothing is left to take.")]
    gaps = _list_gaps(facts, plan)
    if gaps:
        return "not_ready", gaps
    return "accept", list(
        _say_offer(facts.inspected, offered, counts.get("concession", 0), scrapped)
    )


def _say_offer(inspected: int, offered: int, conceded: int, scrapped: int) -> Iterator[Phrase]:
    yield phrase(
        "Every one of the %(stoves)s was inspected; %(offer)s, %(sound)s with no open fault.",
        stoves=phrase_n("%(n)s stove", "%(n)s stoves", inspected),
        offer=phrase_n("%(n)s is offered", "%(n)s are offered", offered),
        sound=offered - conceded,
    )
    if conceded:
        yield phrase_n(
            "%(n)s stove is released by concession, with a known fault that cannot hurt anyone; the reasons are told.",
            "%(n)s stoves are released by concession, with a known fault that cannot hurt anyone; the reasons are told.",
            conceded,
        )
    if scrapped:
        yield phrase_n(
            "%(n)s stove is scrapped and not offered.",
            "%(n)s stoves are scrapped and not offered.",
            scrapped,
        )


def _list_gaps(facts: BatchFacts, plan: AgreedPlan) -> list[str]:
    gaps = []
    left = plan.lot - facts.inspected
    if left > 0:
        gaps.append(
            phrase_n(
                "%(n)s stove of %(lot)s is not inspected yet.",
                "%(n)s stoves of %(lot)s are not inspected yet.",
                left,
                lot=plan.lot,
            )
        )
    waiting, held = facts.dispositions.get("rework", 0), facts.dispositions.get("hold", 0)
    if waiting:
        gaps.append(
            phrase_n("%(n)s stove waits for rework.", "%(n)s stoves wait for rework.", waiting)
        )
    if held:
        gaps.append(
            phrase_n("%(n)s stove waits for a decision.", "%(n)s stoves wait for a decision.", held)
        )
    unseen = [serial for serial, missing in facts.never_looked.items() if any(missing.values())]
    if unseen:
        gaps.append(
            phrase_n(
                "%(n)s stove is offered without every check: %(serials)s.",
                "%(n)s stoves are offered without every check: %(serials)s.",
                len(unseen),
                serials=_list_serials(unseen),
            )
        )
    major, minor = _count_open(facts, "major"), _count_open(facts, "minor")
    if major:
        gaps.append(
            phrase_n(
                "%(n)s stove is released with an open major fault and no concession.",
                "%(n)s stoves are released with an open major fault and no concession.",
                major,
            )
        )
    if minor:
        gaps.append(
            phrase_n(
                "%(n)s stove is released with an open minor fault and no concession.",
                "%(n)s stoves are released with an open minor fault and no concession.",
                minor,
            )
        )
    return gaps


def _find_overruling(facts: BatchFacts, computed: str, reasons: list[str]) -> ServerEvent | None:
    """A person's word holds only for the state it was given on: any later change takes it away."""
    event = facts.find_last("decision")
    if (
        event is None
        or event.body["computed"] != computed
        or event.body["reasons"] != reasons
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


def _list_serials(serials: list[str]) -> str:
    shown = ", ".join(serials[:MAX_SERIALS])
    return (
        shown
        if len(serials) <= MAX_SERIALS
        else phrase("%(shown)s and %(more)s more", shown=shown, more=len(serials) - MAX_SERIALS)
    )
