"""Has the making begun to drift: which rows moved, about when, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from qcapp.reports.pass_drift import PassRow, judge_passes
from qcapp.reports.passes import Passes
from qcapp.reports.reading_drift import ReadingRow, judge_series
from qcapp.reports.series import Series

# What the page promises: where nothing changes, one false signal in so many articles, all rows
# together.
STOVES_PER_FALSE_SIGNAL = 1000

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
