"""May this batch be taken? Computed from what was found, by the agreed plan, with the reasons in words.

A sample decides on the first presentation: what was found at first pass at each stove, whatever
was mended since. Where every stove is inspected, what counts is what is offered now.
"""

from dataclasses import dataclass

from qcapp.errors import BadInput
from qcapp.inspection.batch_facts import SEVERITIES, BatchFacts, OwnEvent, StovePass
from qcapp.reports.plan import AgreedPlan
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

SAMPLE_RULE = (
    "A sample decides on the first presentation: the first pass of each stove counts, whatever was mended since. "
    "A rejected batch can be offered again after every stove has been inspected: agree that as its plan."
)
EVERY_RULE = (
    "Every stove is inspected, so the decision is about what is offered now: every stove released, or by concession with its reason told; "
    "none waiting, none with an open fault that can hurt someone. Scrapped stoves are not offered."
)
MOST_SERIALS = 12


@dataclass(frozen=True)
class SeverityLook:
    """Stoves with at least one fault of a severity at first pass: failed of those the plan looks at."""

    severity: str
    of: int
    failed: int
    interval: Interval | None
    ac: int
    re: int
    is_met: bool


@dataclass(frozen=True)
class Decision:
    """computed, final: accept, reject or not_ready. overruled: the event of the person, or None.

    result: accepted, gap or rejected for the stages of the next batches; None where it does not count.
    """

    computed: str
    reasons: tuple[str, ...]
    final: str
    overruled: OwnEvent | None
    looks: tuple[SeverityLook, ...]
    rule: str
    result: str | None


def decide(facts: BatchFacts, plan: AgreedPlan) -> Decision:
    looks = tuple(_look(facts, plan, severity) for severity in SEVERITIES)
    if facts.inspected == 0:
        computed, reasons = "not_ready", ["No stove of this batch has been inspected."]
    elif plan.inspect == "sample":
        computed, reasons = _decide_sample(facts, plan, looks)
        reasons += _list_doubts(facts, plan)
    else:
        computed, reasons = _decide_every(facts, plan)
    if facts.set_aside:
        reasons.append(f"{_stoves(facts.set_aside, 'record')} of this batch {_are(facts.set_aside)} set aside and counted nowhere until somebody decides.")
    overruled = _find_overruling(facts, computed, reasons)
    final = overruled.body["final"] if overruled else computed
    rule = SAMPLE_RULE if plan.inspect == "sample" else EVERY_RULE
    return Decision(computed, tuple(reasons), final, overruled, looks, rule, _find_result(plan, computed, looks))


def build_overruling(facts: BatchFacts, decision: Decision, final: str, reason: str) -> dict:
    """The body of the event that overrules. Raises BadInput without a reason, and where it could hurt someone."""
    if final not in ("accept", "reject", "not_ready") or final == decision.computed:
        raise BadInput(f"{final!r} does not overrule {decision.computed!r}", "final", "choose another decision than the computed one")
    if not reason.strip():
        raise BadInput("a decision is overruled only with a reason", "reason", "write why; the summary shows it")
    if final == "accept" and _count_open(facts, "critical"):
        raise BadInput("stoves with an open fault that can hurt someone cannot be accepted", "final", "mend or scrap them first")
    return {"computed": decision.computed, "reasons": list(decision.reasons), "final": final, "reason": reason.strip()}


def select_members(facts: BatchFacts, plan: AgreedPlan, severity: str) -> list[StovePass]:
    """First passes that the plan looks at for this severity: all, or the first n drawn."""
    if plan.inspect == "every" or severity == "critical":
        return list(facts.stoves)
    drawn = set(plan.sample[: plan.find_limit(severity).n])
    return [stove for stove in facts.stoves if stove.serial in drawn]


def _look(facts: BatchFacts, plan: AgreedPlan, severity: str) -> SeverityLook:
    looked = [stove for stove in select_members(facts, plan, severity) if stove.is_looked_at(severity)]
    failed = sum(stove.failed[severity] > 0 for stove in looked)
    limit = plan.find_limit(severity)
    if plan.inspect == "every":
        is_met = _count_open(facts, severity) == 0
    else:
        is_met = failed < limit.re
    return SeverityLook(severity, len(looked), failed, wilson_interval(failed, len(looked)) if looked else None, limit.ac, limit.re, is_met)


def _count_open(facts: BatchFacts, severity: str) -> int:
    """Offered stoves with a fault that no concession covers; one that can hurt someone is never covered."""
    released, conceded = facts.open_fails["release"][severity], facts.open_fails["concession"][severity]
    return released + (conceded if severity == "critical" else 0)


def _decide_sample(facts: BatchFacts, plan: AgreedPlan, looks: tuple[SeverityLook, ...]) -> tuple[str, list[str]]:
    reasons = [_say_look(look) for look in looks]
    if not all(look.is_met for look in looks):
        return "reject", reasons
    by_serial = {stove.serial: stove for stove in facts.stoves}
    open_serials = [serial for serial in plan.sample if serial not in by_serial or any(by_serial[serial].missing.values())]
    if open_serials:
        reasons.append(f"Of the sample {_stoves(len(open_serials))} {_are(len(open_serials))} not wholly inspected yet: {_list_serials(open_serials)}.")
    left = plan.lot - looks[0].of
    if left > 0:
        reasons.append(f"{_stoves(left)} {_are(left)} not looked at yet for faults that can hurt someone.")
    if open_serials or left > 0:
        return "not_ready", reasons
    waiting = facts.dispositions.get("rework", 0) + facts.dispositions.get("hold", 0)
    if waiting:
        reasons.append(f"{_stoves(waiting)} found faulty {'waits' if waiting == 1 else 'wait'} and must not go along before passing.")
    return "accept", reasons


def _list_doubts(facts: BatchFacts, plan: AgreedPlan) -> list[str]:
    """What lets a sample be less by chance than it looks: drawn again, or drawn when results were known."""
    doubts = []
    drawn = sum(event.kind == "plan" and event.body["inspect"] == "sample" for event in facts.own)
    if drawn > 1:
        doubts.append(f"A sample was drawn {drawn} times for this batch; the last one counts.")
    members = set(plan.sample)
    early = sum(stove.serial in members and stove.at < plan.agreed_at for stove in facts.stoves) if plan.agreed_at else 0
    if early:
        doubts.append(f"{_stoves(early)} of the sample {'was' if early == 1 else 'were'} inspected before it was drawn.")
    return doubts


def _say_look(look: SeverityLook) -> str:
    limit = "none is accepted" if look.ac == 0 and look.re == 1 else f"up to {look.ac} accept, {look.re} or more reject"
    return f"{look.severity.capitalize()} faults at first pass in {look.failed} of {_stoves(look.of)}; {limit}."


def _decide_every(facts: BatchFacts, plan: AgreedPlan) -> tuple[str, list[str]]:
    counts = facts.dispositions
    offered, scrapped = counts.get("release", 0) + counts.get("concession", 0), counts.get("scrap", 0)
    critical = _count_open(facts, "critical")
    if critical:
        return "reject", [f"{_stoves(critical)} {_are(critical)} offered with an open fault that can hurt someone."]
    if offered == 0 and scrapped == facts.inspected >= plan.lot:
        return "reject", ["Every stove was scrapped; nothing is left to take."]
    gaps = _list_gaps(facts, plan)
    if gaps:
        return "not_ready", gaps
    conceded = counts.get("concession", 0)
    reasons = [f"Every one of the {_stoves(facts.inspected)} was inspected; {offered} {_are(offered)} offered, {offered - conceded} with no open fault."]
    if conceded:
        reasons.append(f"{_stoves(conceded)} {_are(conceded)} released by concession, with a known fault that cannot hurt anyone; the reasons are told.")
    if scrapped:
        reasons.append(f"{_stoves(scrapped)} {_are(scrapped)} scrapped and not offered.")
    return "accept", reasons


def _list_gaps(facts: BatchFacts, plan: AgreedPlan) -> list[str]:
    gaps = []
    left = plan.lot - facts.inspected
    if left > 0:
        gaps.append(f"{_stoves(left)} of {plan.lot} {_are(left)} not inspected yet.")
    for kind, words in (("rework", "for rework"), ("hold", "for a decision")):
        n = facts.dispositions.get(kind, 0)
        if n:
            gaps.append(f"{_stoves(n)} {'waits' if n == 1 else 'wait'} {words}.")
    unseen = [serial for serial, missing in facts.never_looked.items() if any(missing.values())]
    if unseen:
        gaps.append(f"{_stoves(len(unseen))} {_are(len(unseen))} offered without every check: {_list_serials(unseen)}.")
    for severity in ("major", "minor"):
        n = _count_open(facts, severity)
        if n:
            gaps.append(f"{_stoves(n)} {_are(n)} released with an open {severity} fault and no concession.")
    return gaps


def _find_overruling(facts: BatchFacts, computed: str, reasons: list[str]) -> OwnEvent | None:
    """A person's word holds only for the state it was given on: any later change takes it away."""
    event = facts.find_last("decision")
    if event is None or event.body["computed"] != computed or event.body["reasons"] != reasons or event.body["final"] == computed:
        return None
    return event


def _find_result(plan: AgreedPlan, computed: str, looks: tuple[SeverityLook, ...]) -> str | None:
    if plan.inspect != "sample" or computed == "not_ready":
        return None
    if computed == "reject":
        return "rejected"
    return "gap" if any(look.failed > look.ac for look in looks) else "accepted"


def _stoves(n: int, word: str = "stove") -> str:
    return f"{n} {word}{'' if n == 1 else 's'}"


def _are(n: int) -> str:
    return "is" if n == 1 else "are"


def _list_serials(serials: list[str]) -> str:
    shown = ", ".join(serials[:MOST_SERIALS])
    return shown if len(serials) <= MOST_SERIALS else f"{shown} and {len(serials) - MOST_SERIALS} more"
