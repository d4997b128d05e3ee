"""Has a row of readings begun to drift?"""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.history import Criteria, StepRef
from qcapp.reports.drift_signal import LARGER, SMALLER, Signal
from qcapp.reports.row_groups import Group
from qcapp.reports.series import Point, Series
from qcapp.stats.change import Detection, estimate_change
from qcapp.stats.interval import Estimate
from qcapp.stats.self_starting import (
    Drift,
    find_drift,
    find_limit,
    min_spread_of,
    score_readings,
    sum_scores,
)

# Half of the shift worth finding, in standard deviations of a reading. A smaller one sees slow wear
# before the readings have dragged the mean of the row along.
SLACK = 0.25


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
