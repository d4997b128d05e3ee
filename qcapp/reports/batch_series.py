"""Batches of one checklist and size as points of control charts: stoves with a fault, faults a
stove.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.inspection.batch_facts import BatchCount
from qcapp.reports.control_row import ControlRow, make_count_row, make_rate_row
from qcapp.reports.pass_charts import MIN_LANEY
from qcapp.stats.attribute_charts import laney_p_chart, laney_u_chart, p_chart, u_chart
from qcapp.stats.chart import Chart


@dataclass(frozen=True)
class BatchPoint:
    """Stoves inspected, good ones, faults, all at first pass."""

    code: str
    inspected: int
    good: int
    faults: int


@dataclass(frozen=True)
class BatchSeries:
    """Points in the order the batches were opened."""

    checklist: Checklist
    size: str
    points: tuple[BatchPoint, ...]


def build_series(
    counts: Iterable[BatchCount], checklists: Sequence[Checklist]
) -> list[BatchSeries]:
    """By checklist and size, those with two batches or more; finished stoves first."""
    by_id = {checklist.id: checklist for checklist in checklists}
    found: dict[tuple[str, str], list[BatchPoint]] = {}
    for one in counts:
        if one.checklist in by_id and one.inspected:
            point = BatchPoint(one.code, one.inspected, one.good, one.faults)
            found.setdefault((one.checklist, one.size), []).append(point)
    series = [
        BatchSeries(by_id[checklist_id], size, tuple(points))
        for (checklist_id, size), points in found.items()
        if len(points) > 1
    ]
    return sorted(
        series, key=lambda one: (one.checklist.stage != "finished", one.checklist.id, one.size)
    )


def list_alone(
    counts: Iterable[BatchCount], checklists: Sequence[Checklist]
) -> list[tuple[Checklist, str, str]]:
    """(checklist, size, batch) of those that have one batch only, so that nothing is drawn."""
    by_id = {checklist.id: checklist for checklist in checklists}
    found: dict[tuple[str, str], list[str]] = {}
    for one in counts:
        if one.checklist in by_id and one.inspected:
            found.setdefault((one.checklist, one.size), []).append(one.code)
    return [
        (by_id[name], size, codes[0])
        for (name, size), codes in sorted(found.items())
        if len(codes) == 1
    ]


def chart_batches(points: Sequence[BatchPoint]) -> list[ControlRow]:
    """The plain run of shares, then p and u charts, each again with Laney's limits where there are
    batches enough; none of a single batch.
    """
    if len(points) < 2:
        return []
    faulty = [(one.inspected - one.good, one.inspected) for one in points]
    faults = [(one.faults, one.inspected) for one in points]
    rows = [_make_run(points), _make_rate(points, p_chart(faulty), is_laney=False)]
    if len(points) >= MIN_LANEY:
        rows.append(_make_rate(points, laney_p_chart(faulty), is_laney=True))
    rows.append(_make_count(points, u_chart(faults), is_laney=False))
    if len(points) >= MIN_LANEY:
        rows.append(_make_count(points, laney_u_chart(faults), is_laney=True))
    return rows


def _make_run(points: Sequence[BatchPoint]) -> ControlRow:
    """Without limits: to be looked at before any rule is asked."""
    shares = [100 * (one.inspected - one.good) / one.inspected for one in points]
    none = (None,) * len(points)
    return ControlRow(
        phrase(
            "Share with a fault by batch: from %(failed)s of %(of)s to %(newest)s of %(of_newest)s",
            failed=points[0].inspected - points[0].good,
            of=points[0].inspected,
            newest=points[-1].inspected - points[-1].good,
            of_newest=points[-1].inspected,
        ),
        "%",
        _label_rates(points),
        tuple(shares),
        median(shares),
        none,
        none,
        {},
        point=phrase("one batch"),
        centre_is=phrase("median"),
    )


def _label_rates(points: Sequence[BatchPoint]) -> tuple[str, ...]:
    return tuple(
        phrase(
            "%(batch)s: %(failed)s of %(of)s",
            batch=one.code,
            failed=one.inspected - one.good,
            of=one.inspected,
        )
        for one in points
    )


def _make_rate(points: Sequence[BatchPoint], chart: Chart, *, is_laney: bool) -> ControlRow:
    kind = (
        phrase("share with a fault by batch, Laney's p' chart")
        if is_laney
        else phrase("share with a fault by batch, p chart")
    )
    title = _title(kind, chart)
    return make_rate_row(title, _label_rates(points), chart)


def _make_count(points: Sequence[BatchPoint], chart: Chart, *, is_laney: bool) -> ControlRow:
    labels = tuple(
        phrase(
            "%(batch)s: %(faults)s on %(of)s", batch=one.code, faults=one.faults, of=one.inspected
        )
        for one in points
    )
    kind = (
        phrase("faults per piece by batch, Laney's u' chart")
        if is_laney
        else phrase("faults per piece by batch, u chart")
    )
    title = _title(kind, chart)
    return make_count_row(
        title, phrase("faults per piece"), labels, chart, point=phrase("one batch")
    )


def _title(kind: Phrase, chart: Chart) -> Phrase:
    """The finding first: how many batches lie beyond the limits; what the chart is."""
    out = sum(point.is_out for point in chart.points)
    if not out:
        return phrase("No batch stands out: %(kind)s", kind=kind)
    return phrase_n(
        "%(n)s batch stands out: %(kind)s", "%(n)s batches stand out: %(kind)s", out, kind=kind
    )
