"""One control chart as its page shows it: values, limits, which points stand out."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from qcapp.i18n.localized_text import Day
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.stats.chart import Chart, ChartPoint


@dataclass(frozen=True)
class ControlRow:
    """One chart: a value for each label, limits for each point (None: none), and which are flagged.

    title: the finding. flags: {index: words}; other: a second line of the same length (sums below),
    or None. began: index at which a drift most likely began. point, centre_is: what a point and the
    centre are, where that is not "in the order made" and "centre".
    """

    title: str
    unit: str
    labels: tuple[str, ...]
    values: tuple[float, ...]
    centre: float
    lows: tuple[float | None, ...]
    highs: tuple[float | None, ...]
    flags: Mapping[int, str]
    other: tuple[float, ...] | None = None
    began: int | None = None
    point: str = ""
    centre_is: str = ""


def flag_out(points: Sequence[ChartPoint]) -> dict[int, str]:
    return {at: phrase("beyond its limit") for at, point in enumerate(points) if point.is_out}


def say_what_stands_out(kind: Phrase, flags: Collection[int], of: int) -> Phrase:
    """The finding of a chart: how many of its points stand out."""
    if not flags:
        return phrase("%(kind)s: no point of %(of)s stands out", kind=kind, of=of)
    return phrase_n(
        "%(kind)s: %(n)s point of %(of)s stands out",
        "%(kind)s: %(n)s points of %(of)s stand out",
        len(flags),
        kind=kind,
        of=of,
    )


def make_rate_row(title: str, labels: tuple[str, ...], chart: Chart) -> ControlRow:
    """A chart of shares, shown in percent."""
    return ControlRow(
        title,
        "%",
        labels,
        tuple(100 * p.value for p in chart.points),
        100 * chart.centre,
        tuple(100 * p.low for p in chart.points),
        tuple(100 * p.high for p in chart.points),
        flag_out(chart.points),
        point=phrase("one batch"),
    )


def make_count_row(
    title: str, unit: str, labels: tuple[str, ...], chart: Chart, *, point: str
) -> ControlRow:
    """A chart of counts on each unit. point: what the unit is."""
    return ControlRow(
        title,
        unit,
        labels,
        tuple(p.value for p in chart.points),
        chart.centre,
        tuple(p.low for p in chart.points),
        tuple(p.high for p in chart.points),
        flag_out(chart.points),
        point=point,
    )


def name_point(stove: str, captured_at: str) -> Phrase:
    """B4-051, 2026-10-27: the serial without its stage."""
    return phrase("%(serial)s, %(day)s", serial=stove.partition("/")[2], day=Day(captured_at[:10]))
