"""The classic charts of one row of readings: single readings, moving range, weighted mean, sums."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.units import name_unit
from qcapp.reports.control_row import ControlRow, flag_out, name_point, say_what_stands_out
from qcapp.reports.drift import find_began
from qcapp.reports.reading_drift import ReadingRow
from qcapp.stats.chart import Chart
from qcapp.stats.run_rules import nelson_signals
from qcapp.stats.variables_charts import D4, ewma_chart, individuals_chart, moving_range_chart
from qcapp.stats.within_capability import WithinCapability

RULES = {
    1: phrase("one point beyond three standard deviations"),
    2: phrase("nine in a row on one side of the centre"),
    3: phrase("six in a row rising or falling"),
    4: phrase("fourteen in a row alternating up and down"),
    5: phrase("two of three beyond two standard deviations on one side"),
    6: phrase("four of five beyond one standard deviation on one side"),
    7: phrase("fifteen in a row within one standard deviation"),
    8: phrase("eight in a row beyond one standard deviation, on both sides"),
}


@dataclass(frozen=True)
class _Shared:
    """What the charts of one row of readings have in common."""

    unit: str
    labels: tuple[str, ...]
    began: int | None


@dataclass(frozen=True)
class RuleCount:
    """How often one of Nelson's rules was met by how many points."""

    rule: int
    words: str
    points: int


def list_reading_charts(row: ReadingRow) -> list[ControlRow]:
    """Single readings, moving range, weighted mean and sums of a row of two or more readings.

    Centre and limits come from the readings before the drift began, where there are enough of
    them for the row to speak at all; else from the whole row, which a drift then widens.
    """
    values = [point.value for point in row.series.points]
    began = find_began(row)
    settled = _list_settled(values, began)
    base = individuals_chart(settled)
    shared = _Shared(
        name_unit(row.series.check.unit),
        tuple(name_point(point.stove, point.captured_at) for point in row.series.points),
        began,
    )
    return [
        _single(values, base, shared),
        _moving_range(values, moving_range_chart(settled).centre, shared),
        _weighted_mean(values, base, shared),
        _sums(row, shared),
    ]


def build_order_chart(
    points: Sequence[tuple[str, str, float]], unit: str, within: WithinCapability
) -> ControlRow:
    """Single readings in the order made; points: stove, captured_at, value."""
    values = [value for _stove, _at, value in points]
    centre, half = sum(values) / len(values), within.reach * within.s
    return ControlRow(
        say_what_stands_out(phrase("Readings in the order made"), within.signals, len(values)),
        unit,
        tuple(name_point(stove, at) for stove, at, _value in points),
        values=tuple(values),
        centre=centre,
        lows=(centre - half,) * len(values),
        highs=(centre + half,) * len(values),
        flags={at: phrase("beyond its limit") for at in within.signals},
        point=phrase("one reading"),
    )


def _list_settled(values: Sequence[float], began: int | None) -> Sequence[float]:
    """The readings before the drift, where there are enough for a chart; else all."""
    return values[:began] if began and began >= 2 else values


def _weighted_mean(values: Sequence[float], base: Chart, shared: _Shared) -> ControlRow:
    points = ewma_chart(values, base.centre, base.spread or 1.0).points
    flags = flag_out(points)
    kind = phrase("Weighted mean of the newest readings (EWMA)")
    return ControlRow(
        say_what_stands_out(kind, flags, len(points)),
        shared.unit,
        shared.labels,
        values=tuple(p.value for p in points),
        centre=base.centre,
        lows=tuple(p.low for p in points),
        highs=tuple(p.high for p in points),
        flags=flags,
        began=shared.began,
        point=phrase("weighted mean so far"),
    )


def _sums(row: ReadingRow, shared: _Shared) -> ControlRow:
    count = len(row.above)
    flags = {
        at: phrase("sum beyond its limit")
        for at in range(count)
        if max(row.above[at], row.below[at]) > row.limit
    }
    kind = phrase("Sums of small shifts in standard deviations (CUSUM)")
    return ControlRow(
        say_what_stands_out(kind, flags, count),
        phrase("sd"),
        shared.labels,
        values=row.above,
        centre=0.0,
        lows=(-row.limit,) * count,
        highs=(row.limit,) * count,
        other=tuple(-value for value in row.below),
        flags=flags,
        began=shared.began,
        point=phrase("sum upward and downward"),
    )


def _single(values: Sequence[float], base: Chart, shared: _Shared) -> ControlRow:
    flags: dict[int, list[Phrase]] = {}
    for signal in nelson_signals(_scale(values, base)):
        flags.setdefault(signal.index, []).append(phrase("rule %(rule)s", rule=signal.rule))
    return ControlRow(
        say_what_stands_out(phrase("Single readings"), flags, len(values)),
        shared.unit,
        shared.labels,
        values=tuple(values),
        centre=base.centre,
        lows=(base.centre - 3 * base.spread,) * len(values),
        highs=(base.centre + 3 * base.spread,) * len(values),
        flags={at: join(", ", rules) for at, rules in flags.items()},
        began=shared.began,
        point=phrase("one reading"),
    )


def _scale(values: Sequence[float], base: Chart) -> list[float]:
    return [(value - base.centre) / base.spread if base.spread > 0 else 0.0 for value in values]


def _moving_range(values: Sequence[float], centre: float, shared: _Shared) -> ControlRow:
    ranges = tuple(abs(after - before) for before, after in pairwise(values))
    high = D4 * centre
    flags = {
        at: phrase("beyond the limit") for at, value in enumerate(ranges) if value > high + 1e-9
    }
    return ControlRow(
        say_what_stands_out(
            phrase("Moving range: from one reading to the next"), flags, len(ranges)
        ),
        shared.unit,
        shared.labels[1:],
        ranges,
        centre,
        (None,) * len(ranges),
        (high,) * len(ranges),
        flags,
        point=phrase("one range"),
    )


def count_rules(row: ReadingRow) -> list[RuleCount]:
    """Nelson's rules over the whole row, with the number of points at which each is met."""
    values = [point.value for point in row.series.points]
    began = find_began(row)
    base = individuals_chart(_list_settled(values, began))
    signals = nelson_signals(_scale(values, base))
    return [
        RuleCount(rule, words, sum(signal.rule == rule for signal in signals))
        for rule, words in RULES.items()
    ]
