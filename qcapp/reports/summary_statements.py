"""What a summary says in whole sentences beside its figures: its promise, the buyer's re-check."""

from typing import Any

from qcapp.i18n.messages import Message
from qcapp.inspection.batch_facts import BatchFacts, ServerEvent
from qcapp.reports.decision import select_looked_at
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.summary_measures import as_decimal
from qcapp.reports.summary_messages import (
    EVERY_NOT_INSPECTED,
    EVERY_PROMISE,
    RECHECK,
    SAMPLE_NOT_LOOKED_AT,
    SAMPLE_PROMISE,
)
from qcapp.stats.compare import fisher_exact, newcombe_difference
from qcapp.stats.operating import bad_stoves_bound

LEVEL = 0.95


def promise_batch(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any]:
    """What the inspection can and cannot promise of this batch, in one sentence and in numbers.

    found and left_at_most are of stoves with a critical or major fault at first pass, what matters
    for use or safety: fewer than the bad ones, which minor faults make too.
    """
    lot = max(plan.lot, facts.inspected)
    if plan.inspect == "every":
        return _promise_every(facts, lot)
    n = plan.find_limit("major").n
    looked_at = select_looked_at(facts.stoves, plan, "major")
    found = sum(stove.failed["major"] > 0 or stove.failed["critical"] > 0 for stove in looked_at)
    if len(looked_at) < n:
        sentence = SAMPLE_NOT_LOOKED_AT(looked_at=len(looked_at), drawn=n)
        return _number(sentence, len(looked_at), lot, found, lot - len(looked_at))
    left = bad_stoves_bound(lot, n, found, LEVEL)
    sentence = SAMPLE_PROMISE(drawn=n, lot=lot, found=found, left=left, others=lot - n)
    return _number(sentence, n, lot, found, left)


def _promise_every(facts: BatchFacts, lot: int) -> dict[str, Any]:
    found = sum(stove.failed["major"] > 0 or stove.failed["critical"] > 0 for stove in facts.stoves)
    left = lot - facts.inspected
    if left > 0:
        sentence = EVERY_NOT_INSPECTED(inspected=facts.inspected, lot=lot, left=left)
        return _number(sentence, facts.inspected, lot, found, left)
    return _number(EVERY_PROMISE(lot=lot), facts.inspected, lot, found, 0)


def _number(sentence: Message, inspected: int, lot: int, found: int, left: int) -> dict[str, Any]:
    return {
        "sentence": sentence.to_json(),
        "inspected": inspected,
        "lot": lot,
        "found": found,
        "left_at_most": left,
        "level": as_decimal(LEVEL, 2),
    }


def compare_recheck(
    facts: BatchFacts, plan: AgreedPlan, event: ServerEvent
) -> dict[str, Any] | None:
    """The buyer's rate less the yard's (Newcombe 1998), with Fisher's exact p in the note. None
    before any yard's figure.

    Beside a sample stands the share of the sample that failed at first pass; where every stove was
    inspected, the share of released stoves that were released by concession.
    """
    n, failed = event.body["n"], event.body["failed"]
    yard_n, yard_failed, what = _find_yards_figure(facts, plan)
    if yard_n == 0:
        return None
    difference = newcombe_difference(failed, n, yard_failed, yard_n)
    p = fisher_exact(failed, n, yard_failed, yard_n)
    note = RECHECK(what=what, judged=_judge(difference.low, difference.high), p=as_decimal(p, 3))
    return {
        "n": n,
        "failed": failed,
        "yard_n": yard_n,
        "yard_failed": yard_failed,
        "difference": as_decimal(difference.value, 4),
        "low": as_decimal(difference.low, 4),
        "high": as_decimal(difference.high, 4),
        "note": note.to_json(),
        "wrote": event.body["note"].strip(),
    }


def _find_yards_figure(facts: BatchFacts, plan: AgreedPlan) -> tuple[int, int, str]:
    if plan.inspect == "sample":
        looked_at = select_looked_at(facts.stoves, plan, "major")
        return len(looked_at), sum(stove.has_fail for stove in looked_at), "sample"
    conceded = facts.dispositions.get("concession", 0)
    return facts.dispositions.get("release", 0) + conceded, conceded, "concessions"


def _judge(low: float, high: float) -> str:
    """Which more than chance explains, if any."""
    if low > 0:
        return "more"
    return "fewer" if high < 0 else "chance"
