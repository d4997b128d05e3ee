"""Signals that have one cause put together: one work, the same people, the same stoves."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.reports.drift import DriftReport, DriftRow, find_began
from qcapp.reports.passes import PassPoint
from qcapp.reports.reading_drift import ReadingRow
from qcapp.reports.series import Point

# Two signals share their stoves from this share on.
SHARED = 0.5


@dataclass(frozen=True)
class Cause:
    """What may be one thing to mend. rows: each with a signal, the one to look at first on top: a
    template's before a person's, readings before faults, the larger sum for its limit first.
    """

    rows: tuple[DriftRow, ...]

    @property
    def head(self) -> DriftRow:
        return self.rows[0]

    @property
    def fails_more(self) -> bool:
        """Whether its first row says that more has failed since; a lesson that helped moves rows
        too.
        """
        return self.head.signal is not None and self.head.signal.fails_more


def find_causes(report: DriftReport) -> list[Cause]:
    """Every signal stands in exactly one cause: with all that it shares with, directly or through
    others. Those since which more fails first, then by the day of the newest signal.
    """
    causes: list[list[DriftRow]] = []
    for row in report.signals:
        joined = [own for own in causes if any(has_one_cause(row, other) for other in own)]
        causes = [own for own in causes if own not in joined]
        causes.append([row, *(other for own in joined for other in own)])
    found = [Cause(tuple(sorted(own, key=_rank))) for own in causes]
    return sorted(sorted(found, key=_seen_at, reverse=True), key=lambda one: not one.fails_more)


def _rank(row: DriftRow) -> tuple[bool, bool, float, str]:
    is_reading = isinstance(row, ReadingRow)
    reached = max(*row.above, *row.below) / row.limit if isinstance(row, ReadingRow) else 0.0
    return (row.group.kind == "artisan", not is_reading, -reached, row.group.id)


def _seen_at(cause: Cause) -> str:
    return max(row.signal.seen[1] for row in cause.rows if row.signal)


def has_one_cause(a: DriftRow, b: DriftRow) -> bool:
    """Whether two signals are one finding.

    They are of the same work (a step's id is one work in every checklist), the people of one are
    among those of the other (a template and one of its users, or one person twice), and they share
    their stoves:

    - Of two rows of readings, or two of faults: of the stoves that stand in both rows and that
      either signal rests on, at least half are those that both rest on. A signal of readings
      rests on the stoves since its shift began, one of faults on the faulty ones among them. So a
      second shift, begun long after the first, is another finding.
    - Of readings and faults: at least half of the faulty stoves failed that very check since its
      readings shifted. So faults of another check of the step are another finding.
    """
    if a.step.step != b.step.step or not _is_among(a, b):
        return False
    if isinstance(a, ReadingRow) != isinstance(b, ReadingRow):
        readings, faults = (a, b) if isinstance(a, ReadingRow) else (b, a)
        faulty = _list_since(faults, has_failed=True)
        return len(faulty & _list_since(readings, has_failed=True)) >= SHARED * len(faulty) > 0
    in_both = {point.stove for point in a.points} & {point.stove for point in b.points}
    ours, theirs = _list_rested_on(a) & in_both, _list_rested_on(b) & in_both
    return len(ours & theirs) >= SHARED * len(ours | theirs) > 0


def _is_among(a: DriftRow, b: DriftRow) -> bool:
    ours, theirs = a.group.artisans, b.group.artisans
    return ours <= theirs or theirs <= ours


def _list_rested_on(row: DriftRow) -> frozenset[str]:
    return _list_since(row, has_failed=not isinstance(row, ReadingRow))


def _list_since(row: DriftRow, *, has_failed: bool) -> frozenset[str]:
    """The stoves since the shift began; with has_failed only those that failed."""
    since: Sequence[Point | PassPoint] = row.points[find_began(row) :]
    return frozenset(point.stove for point in since if point.failed or not has_failed)
