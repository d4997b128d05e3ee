"""What a summary says in whole sentences: its promise, the buyer's re-check beside it, cautions."""

from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.batch_facts import BatchFacts, ServerEvent
from qcapp.reports.decision import select_members
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.summary_measures import as_decimal
from qcapp.stats.compare import fisher_exact, newcombe_difference
from qcapp.stats.operating import bad_stoves_bound

LEVEL = 0.95
CAUTIONS = (
    phrase(
        "A quality pass is not a safety certificate: the checks do not test smoke, carbon monoxide or fuel use."
    ),
    phrase(
        "Charcoal always gives off carbon monoxide, which has no smell, and no stove prevents it: "
        "light and use stoves in open air, never indoors, never sleep near one."
    ),
    phrase(
        "Headache, dizziness, sickness or weakness near a lit stove: out to fresh air, put the fire out, get medical help."
    ),
    phrase(
        "Set a stove on level ground, a metre from cloth and thatch; keep children away; move it cold only."
    ),
    phrase(
        "A stove sold as meeting a national standard needs the recognised laboratory or authority. "
        "Building, fire and electrical rules are local and come first."
    ),
    phrase("Pay and dismissals are never decided on these figures alone."),
)


def promise_batch(facts: BatchFacts, plan: AgreedPlan) -> dict:
    """What the inspection can and cannot promise of this batch, in one sentence and in numbers.

    A bad stove has at least one critical or major fault at first pass.
    """
    lot = max(plan.lot, facts.inspected)
    if plan.inspect == "every":
        return _promise_every(facts, lot)
    n = plan.find_limit("major").n
    counted_checks = [
        stove for stove in select_members(facts, plan, "major") if stove.is_looked_at("major")
    ]
    found = sum(
        stove.failed["major"] > 0 or stove.failed["critical"] > 0 for stove in counted_checks
    )
    if len(counted_checks) < n:
        sentence = phrase(
            "%(counted_checks)s of the %(drawn)s stoves drawn by lot were looked at; until all are, the sample promises nothing of the other stoves.",
            counted_checks=len(counted_checks),
            drawn=n,
        )
        return _number(sentence, len(counted_checks), lot, found, lot - len(counted_checks))
    left = bad_stoves_bound(lot, n, found, LEVEL)
    sentence = phrase(
        "%(drawn)s of %(lot)s stoves, drawn by lot, had every check and %(found)s of them had a fault that matters for use or safety; "
        "with 95 %% confidence at most %(left)s of the other %(others)s would show one under the same checks, "
        "and no smaller number can be promised from this sample.",
        drawn=n,
        lot=lot,
        found=found,
        left=left,
        others=lot - n,
    )
    return _number(sentence, n, lot, found, left)


def _promise_every(facts: BatchFacts, lot: int) -> dict:
    found = sum(stove.failed["major"] > 0 or stove.failed["critical"] > 0 for stove in facts.stoves)
    left = lot - facts.inspected
    if left > 0:
        sentence = phrase(
            "%(inspected)s of %(lot)s stoves were inspected; of the other %(left)s nothing is known and nothing is promised.",
            inspected=facts.inspected,
            lot=lot,
            left=left,
        )
        return _number(sentence, facts.inspected, lot, found, left)
    sentence = phrase(
        "Every one of the %(lot)s stoves was inspected, so nothing here rests on a sample; the checks find only what they look at, "
        "and a careful inspector can still miss a fault.",
        lot=lot,
    )
    return _number(sentence, facts.inspected, lot, found, 0)


def _number(sentence: str, inspected: int, lot: int, found: int, left: int) -> dict:
    return {
        "sentence": sentence,
        "inspected": inspected,
        "lot": lot,
        "found": found,
        "bad_left_at_most": left,
        "level": as_decimal(LEVEL, 2),
    }


def compare_recheck(facts: BatchFacts, plan: AgreedPlan, event: ServerEvent) -> dict | None:
    """The buyer's rate less the yard's (Newcombe 1998), with Fisher's exact p in the note. None before any yard's figure.

    Beside a sample stands the share of the sample that failed at first pass; where every stove was
    inspected, the share of offered stoves that were released by concession.
    """
    n, failed = event.body["n"], event.body["failed"]
    yard_n, yard_failed, what = _find_yards_figure(facts, plan)
    if yard_n == 0:
        return None
    difference = newcombe_difference(failed, n, yard_failed, yard_n)
    p = fisher_exact(failed, n, yard_failed, yard_n)
    judged = _judge(difference.low, difference.high)
    note = phrase(
        "Beside it: %(what)s. %(judged)s (exact p %(p)s).",
        what=what,
        judged=judged,
        p=Figure(as_decimal(p, 3)),
    )
    words = event.body["note"].strip()
    return {
        "n": n,
        "failed": failed,
        "yard_n": yard_n,
        "yard_failed": yard_failed,
        "difference": as_decimal(difference.value, 4),
        "low": as_decimal(difference.low, 4),
        "high": as_decimal(difference.high, 4),
        "note": phrase("%(note)s The buyer wrote: %(words)s", note=note, words=words)
        if words
        else note,
    }


def _find_yards_figure(facts: BatchFacts, plan: AgreedPlan) -> tuple[int, int, Phrase]:
    if plan.inspect == "sample":
        counted_checks = [
            stove for stove in select_members(facts, plan, "major") if stove.is_looked_at("major")
        ]
        return (
            len(counted_checks),
            sum(stove.has_fail for stove in counted_checks),
            phrase("stoves of the yard's sample with a fault at first pass"),
        )
    conceded = facts.dispositions.get("concession", 0)
    return (
        facts.dispositions.get("release", 0) + conceded,
        conceded,
        phrase("offered stoves that the yard released by concession"),
    )


def _judge(low: float, high: float) -> Phrase:
    if low > 0:
        return phrase("The buyer found more, beyond what chance explains")
    if high < 0:
        return phrase("The buyer found fewer, beyond what chance explains")
    return phrase("The difference may be chance")
