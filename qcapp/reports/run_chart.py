"""The plain run chart of a row: its points in the order made and their median, nothing else.

Perla, R. J., Provost, L. P. and Murray, S. K. (2011). The run chart: a simple analytical tool for
learning from variation in healthcare processes. BMJ Quality and Safety 20, 46-51 (the median as
the centre; here of the points before a shift, where one is known).
"""

from collections.abc import Sequence
from statistics import median

from qcapp.i18n.localized_text import Day, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit
from qcapp.reports.control_row import ControlRow, name_point
from qcapp.reports.drift import DriftRow, find_began
from qcapp.reports.drift_signal import LARGER
from qcapp.reports.pass_drift import PassRow
from qcapp.reports.reading_drift import ReadingRow


def name_row(row: DriftRow) -> Phrase:
    """What is looked at, and whose."""
    return phrase("%(what)s: %(who)s", what=name_what(row), who=row.group.title)


def name_what(row: DriftRow) -> str | tuple[str, str]:
    """What is looked at: a check, with its size where sizes stand apart, or a step."""
    if isinstance(row, PassRow):
        return text_of(row.passes.step.title)
    ask, size = text_of(row.series.check.ask), row.series.size
    return (ask, name_size(size)) if size else ask


def build_run_chart(row: DriftRow) -> ControlRow:
    """Readings one by one; of faults the share by batch, since a stove has none or one."""
    return _chart_readings(row) if isinstance(row, ReadingRow) else _chart_passes(row)


def _chart_readings(row: ReadingRow) -> ControlRow:
    labels = tuple(name_point(point.stove, point.captured_at) for point in row.points)
    values = [point.value for point in row.points]
    unit = name_unit(row.series.check.unit)
    if row.series.middle_of:
        unit = phrase("%(unit)s from %(middle)s", unit=unit, middle=row.series.middle_of)
    return _build(row, unit, labels, values, began=find_began(row), point=phrase("one reading"))


def _chart_passes(row: PassRow) -> ControlRow:
    batches: dict[str, list[bool]] = {}
    for point in row.points:
        batches.setdefault(point.batch, []).append(point.failed)
    labels = tuple(
        phrase("%(batch)s: %(failed)s of %(of)s", batch=batch, failed=sum(own), of=len(own))
        for batch, own in batches.items()
    )
    shares = [100 * sum(own) / len(own) for own in batches.values()]
    first = find_began(row)
    # From the stove to its batch, which is what this chart shows as a point.
    began = None if first is None else list(batches).index(row.points[first].batch)
    unit = phrase("%% with a fault")
    return _build(row, unit, labels, shares, began=began, point=phrase("one batch"))


def _build(
    row: DriftRow,
    unit: str,
    labels: tuple[str, ...],
    values: Sequence[float],
    *,
    began: int | None,
    point: str,
) -> ControlRow:
    """began: index of the first point after the shift; point: what one is."""
    no_limits = (None,) * len(values)
    return ControlRow(
        title=say_finding(row),
        unit=unit,
        labels=labels,
        values=tuple(values),
        centre=median(values[:began] if began else values),
        lows=no_limits,
        highs=no_limits,
        flags={},
        began=began,
        point=point,
        centre_is=phrase("median before") if began else phrase("median"),
    )


def say_finding(row: DriftRow) -> Phrase:
    """In words: which way it moved and since when, or that nothing is shown."""
    name, signal = name_row(row), row.signal
    if row.state == "too few":
        return phrase("%(row)s: too few to tell (%(n)s)", row=name, n=len(row.points))
    if signal is None:
        return phrase("%(row)s: no change shown in %(n)s", row=name, n=len(row.points))
    day = Day(signal.began[1][:10])
    if isinstance(row, PassRow):
        return phrase("%(row)s: more faults since about %(day)s", row=name, day=day)
    if signal.direction == LARGER:
        return phrase("%(row)s: larger since about %(day)s", row=name, day=day)
    return phrase("%(row)s: smaller since about %(day)s", row=name, day=day)
