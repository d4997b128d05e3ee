"""What a summary promises of the batch, in one sentence beside its figures."""

from typing import Any

from qcapp.i18n.messages import Message
from qcapp.inspection.batch_facts import BatchFacts
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import select_looked_at
from qcapp.reports.summary_measures import as_decimal
from qcapp.reports.summary_messages import (
    EVERY_NOT_INSPECTED,
    EVERY_PROMISE,
    SAMPLE_NOT_LOOKED_AT,
    SAMPLE_PROMISE,
)
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
