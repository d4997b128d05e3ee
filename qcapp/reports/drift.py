"""Has the making begun to drift: which rows moved, about when, and how sure that is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import Criteria, StepRef
from qcapp.checklist.items import Step
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.reports.groups import GroupRate, build_rate
from qcapp.reports.passes import Passes, PassPoint
from qcapp.reports.row_groups import Group
from qcapp.reports.series import Point, Series
from qcapp.stats.change import Detection, estimate_change
from qcapp.stats.cusum import BernoulliCusum, BernoulliPlan, bernoulli_cusum, design_bernoulli_cusum
from qcapp.stats.interval import Estimate
from qcapp.stats.proportion import wilson_interval
from qcapp.stats.self_starting import (
    Drift,
    find_drift,
    find_limit,
    min_spread_of,
    score_readings,
    sum_scores,
)

# What the page promises: where nothing changes, one false signal in so many articles, all rows
# together.
STOVES_PER_FALSE_SIGNAL = 1000
# Half of the shift worth finding, in standard deviations of a reading. A smaller one sees slow wear
# before the readings have dragged the mean of the row along.
SLACK = 0.25
# The first stoves of a row of passes say what is usual; their upper 80 % limit is taken for it, so
# that luck at the start does not make everything after it look worse.
USUAL_STOVES = 40
USUAL_LEVEL = 0.8
WORSE_TIMES = 2.5
WORST_RATE = 0.95
LARGER, SMALLER, MORE_FAULTS = phrase("larger"), phrase("smaller"), phrase("more faults")


@dataclass(frozen=True)
class Signal:
    """direction: larger, smaller (readings) or more faults (passes). began, seen: (stove,
    captured_at).

    before, since: counts and means (readings) or shares (passes); change: of the mean as one
    jump, whenever it came, with an interval that allows for the search; None with too few. rates:
    before and since (passes), None for readings.
    """

    direction: str
    began: tuple[str, str]
    seen: tuple[str, str]
    stoves_until_seen: int
    before: tuple[int, float]
    since: tuple[int, float]
    failed_before: int
    failed_since: int
    change: Estimate | None
    rates: tuple[GroupRate, GroupRate] | None

    @property
    def fails_more(self) -> bool:
        """Whether a larger share has failed since than before, as counted."""
        return self.failed_since * self.before[0] > self.failed_before * self.since[0]


@dataclass(frozen=True)
class ReadingRow:
    """A row of readings with its sums (in standard deviations).

    state: signal, steady or too few.
    """

    series: Series
    scores: tuple[float, ...]
    above: tuple[float, ...]
    below: tuple[float, ...]
    limit: float
    state: str
    signal: Signal | None

    @property
    def group(self) -> Group:
        return self.series.group

    @property
    def criteria(self) -> Criteria[Check]:
        return self.series.criteria

    @property
    def step(self) -> StepRef:
        return StepRef(self.series.criteria.checklist, self.series.check.step)

    @property
    def points(self) -> tuple[Point, ...]:
        return self.series.points


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


DriftRow = ReadingRow | PassRow


def find_began(row: DriftRow) -> int | None:
    """The place in the row at which its shift began; None without a signal."""
    if row.signal is None:
        return None
    return [(point.stove, point.captured_at) for point in row.points].index(row.signal.began)


@dataclass(frozen=True)
class DriftReport:
    """points_per_stove: in how many rows an article stands, rounded up; run: mean length between
    false signals that each row is set to, so that all together keep the promise."""

    stoves: int
    points_per_stove: int
    run: int
    readings: tuple[ReadingRow, ...]
    passes: tuple[PassRow, ...]
    min_count: int

    @property
    def rows(self) -> list[DriftRow]:
        return [*self.readings, *self.passes]

    @property
    def signals(self) -> list[DriftRow]:
        return [row for row in self.rows if row.signal]


def build_drift_report(
    series: Sequence[Series], passes: Sequence[Passes], *, min_count: int
) -> DriftReport:
    """Looks at every row once; more rows make each of them slower to speak."""
    stoves = {point.stove for row in passes for point in row.points} | {
        point.stove for row in series for point in row.points
    }
    points = sum(len(row.points) for row in series) + sum(len(row.points) for row in passes)
    per_stove = max(1, ceil(points / len(stoves))) if stoves else 1
    run = STOVES_PER_FALSE_SIGNAL * per_stove
    return DriftReport(
        stoves=len(stoves),
        points_per_stove=per_stove,
        run=run,
        readings=tuple(judge_series(row, run=run, min_count=min_count) for row in series),
        passes=tuple(judge_passes(row, run=run, min_count=min_count) for row in passes),
        min_count=min_count,
    )


def judge_series(series: Series, *, run: int, min_count: int) -> ReadingRow:
    """One row of readings: scores, sums and, above the limit, the signal."""
    values = [point.value for point in series.points]
    scores = score_readings(values, min_spread_of(float(series.check.resolution)))
    above, below = sum_scores(scores, SLACK)
    limit = find_limit(SLACK, float(run))
    drift = find_drift(scores, SLACK, limit, min_count)
    state = "too few" if len(values) < min_count else "signal" if drift else "steady"
    signal = None
    if drift:
        detection = Detection(drift.direction == "above", SLACK, limit)
        signal = _describe(
            series.points,
            LARGER if detection.is_larger else SMALLER,
            drift,
            estimate_change(values, detection, min_spread_of(float(series.check.resolution))),
        )
    return ReadingRow(series, scores, above, below, limit, state, signal)


def _describe(
    points: Sequence[Point], direction: str, drift: Drift, change: Estimate | None
) -> Signal:
    began, seen = drift.began, drift.seen
    before, since = points[:began], points[began:]
    return Signal(
        direction=direction,
        began=(points[began].stove, points[began].captured_at),
        seen=(points[seen].stove, points[seen].captured_at),
        stoves_until_seen=seen - began + 1,
        before=(len(before), _mean(before)),
        since=(len(since), _mean(since)),
        failed_before=sum(point.failed for point in before),
        failed_since=sum(point.failed for point in since),
        change=change,
        rates=None,
    )


def _mean(points: Sequence[Point]) -> float:
    return sum(point.value for point in points) / len(points) if points else 0.0


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
