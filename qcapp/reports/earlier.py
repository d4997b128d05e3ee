"""A batch beside the yard's earlier ones of the same checklist and size."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.inspection.batch_facts import BatchCount, BatchFacts, StovePass
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import select_fully_inspected
from qcapp.reports.summary_measures import as_decimal
from qcapp.stats.interval import Interval
from qcapp.stats.next_batch import FEWEST_BATCHES, predict_rate


@dataclass(frozen=True)
class EarlierBatches:
    """good of `of`, faults: this batch's fully inspected stoves. counts: the batches before,
    oldest first.

    expected: between which shares a batch made like them lies (95 %), None with fewer than three
    or without a stove of this one.
    """

    good: int
    of: int
    faults: int
    counts: tuple[BatchCount, ...]
    expected: Interval | None

    @property
    def is_within(self) -> bool | None:
        if self.expected is None:
            return None
        return self.expected.low <= self.good / self.of <= self.expected.high


def compare_earlier(
    stoves: Sequence[StovePass], plan: AgreedPlan, earlier: Sequence[BatchCount]
) -> EarlierBatches | None:
    """None where this batch is inspected by sample, or none came before: there is nothing alike.

    stoves, earlier: as in BatchFacts.
    """
    if plan.inspect == "sample":
        return None
    counts = [one for one in earlier if one.inspected]
    return _compare(select_fully_inspected(stoves, plan), counts) if counts else None


def _compare(stoves: Sequence[StovePass], counts: Sequence[BatchCount]) -> EarlierBatches:
    good = sum(not stove.has_fail for stove in stoves)
    expected = None
    if stoves and len(counts) >= FEWEST_BATCHES:
        expected = predict_rate([(one.good, one.inspected) for one in counts], len(stoves))
    return EarlierBatches(
        good, len(stoves), sum(stove.faults for stove in stoves), tuple(counts), expected
    )


def describe_earlier(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any] | None:
    """What a buyer may see of batches that may be somebody else's: sums over three or more closed
    ones, without their codes, days or single figures but the lowest and highest share.
    """
    found = compare_earlier(facts.stoves, plan, facts.earlier)
    closed = [one for one in found.counts if one.is_closed] if found else []
    if found is None or found.of == 0 or len(closed) < FEWEST_BATCHES:
        return None
    counts = [(one.good, one.inspected) for one in closed]
    shares = [good / of for good, of in counts]
    expected = predict_rate(counts, found.of)
    return {
        "batches": len(closed),
        "stoves": sum(of for _good, of in counts),
        "good": sum(good for good, _of in counts),
        "lowest": as_decimal(min(shares), 4),
        "highest": as_decimal(max(shares), 4),
        "expected_low": as_decimal(expected.low, 4),
        "expected_high": as_decimal(expected.high, 4),
        "is_within": expected.low <= found.good / found.of <= expected.high,
    }
