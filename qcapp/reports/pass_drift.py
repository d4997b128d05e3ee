"""Do more stoves fail on a step than is usual for its row?"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from qcapp.checklist.history import Criteria, StepRef
from qcapp.checklist.items import Step
from qcapp.errors import BadInput
from qcapp.reports.drift_signal import MORE_FAULTS, Signal
from qcapp.reports.groups import GroupRate, build_rate
from qcapp.reports.passes import Passes, PassPoint
from qcapp.reports.row_groups import Group
from qcapp.stats.cusum import BernoulliCusum, BernoulliPlan, bernoulli_cusum, design_bernoulli_cusum
from qcapp.stats.proportion import wilson_interval

# The first stoves of a row of passes say what is usual; their upper 80 % limit is taken for it, so
# that luck at the start does not make everything after it look worse.
USUAL_STOVES = 40
USUAL_LEVEL = 0.8
WORSE_TIMES = 2.5
WORST_RATE = 0.95


@dataclass(frozen=True)
class PassRow:
    """A row of passes with its sum in points; plan None while the usual rate is not known."""

    passes: Passes
    plan: BernoulliPlan | None
    usual: tuple[int, int] | None
    sums: tuple[int, ...]
    state: str
    signal: Signal | None

    @property
    def group(self) -> Group:
        return self.passes.group

    @property
    def criteria(self) -> Criteria[Step]:
        return self.passes.criteria

    @property
    def step(self) -> StepRef:
        return StepRef(self.passes.criteria.checklist, self.passes.step.id)

    @property
    def points(self) -> tuple[PassPoint, ...]:
        return self.passes.points


def judge_passes(passes: Passes, *, run: int, min_count: int) -> PassRow:
    """One row of passes: the usual rate from its first stoves, then a sum stove by stove."""
    failed = [point.failed for point in passes.points]
    needed = max(USUAL_STOVES, min_count)
    if len(failed) <= needed:
        return PassRow(passes, None, None, (), "too few", None)
    usual = (sum(failed[:needed]), needed)
    plan = _plan(*usual, run)
    if plan is None:
        return PassRow(passes, None, usual, (), "too few", None)
    found = bernoulli_cusum(failed[needed:], plan)
    signal = _describe_passes(passes, found, needed) if found.signals else None
    return PassRow(passes, plan, usual, found.sums, "signal" if signal else "steady", signal)


@lru_cache(maxsize=512)
def _plan(failed: int, inspected: int, run: int) -> BernoulliPlan | None:
    usual = wilson_interval(failed, inspected, 2 * USUAL_LEVEL - 1).high
    worse = min(WORST_RATE, WORSE_TIMES * usual)
    if worse <= usual:
        return None
    try:
        return design_bernoulli_cusum(usual, worse, float(run))
    except BadInput:
        # So long a run at so close rates: this row cannot speak within a yard's lifetime.
        return None


def _describe_passes(passes: Passes, found: BernoulliCusum, offset: int) -> Signal:
    at = found.signals[0]
    zeros = [place for place in range(at) if found.sums[place] == 0]
    began = offset + (zeros[-1] + 1 if zeros else 0)
    before, since = passes.points[:began], passes.points[began:]
    counts = [
        (len(part), sum(point.failed for point in part) / len(part)) for part in (before, since)
    ]
    return Signal(
        direction=MORE_FAULTS,
        began=passes.points[began][:2],
        seen=passes.points[offset + at][:2],
        stoves_until_seen=offset + at - began + 1,
        before=counts[0],
        since=counts[1],
        failed_before=sum(point.failed for point in before),
        failed_since=sum(point.failed for point in since),
        change=None,
        rates=(_rate(point.failed for point in before), _rate(point.failed for point in since)),
    )


def _rate(failed: Iterable[bool]) -> GroupRate:
    kept = list(failed)
    return build_rate(len(kept), sum(kept))
