"""The classic charts of one row of passes: rates by batch, sums stove by stove."""

from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.control_row import (
    ControlRow,
    flag_out,
    make_rate_row,
    name_point,
    say_what_stands_out,
)
from qcapp.reports.pass_drift import PassRow
from qcapp.stats.attribute_charts import laney_p_chart, p_chart
from qcapp.stats.chart import Chart
from qcapp.stats.cusum import BernoulliPlan

# Fewer points say nothing of how much points scatter.
MIN_LANEY = 4


def list_pass_charts(row: PassRow) -> list[ControlRow]:
    """Rates by batch, and the sum stove by stove where the usual rate is known."""
    batches: dict[str, list[bool]] = {}
    for _stove, _at, batch, failed in row.passes.points:
        batches.setdefault(batch, []).append(failed)
    counts = [(sum(failed), len(failed)) for failed in batches.values()]
    labels = tuple(
        phrase("%(batch)s: %(failed)s of %(of)s", batch=batch, failed=failed, of=n)
        for batch, (failed, n) in zip(batches, counts, strict=True)
    )
    found = [_make_batch_row(phrase("Stoves with a fault, by batch"), labels, p_chart(counts))]
    if len(counts) >= MIN_LANEY:
        kind = phrase("The same with limits as wide as batches really differ (Laney's p')")
        found.append(_make_batch_row(kind, labels, laney_p_chart(counts)))
    if row.plan:
        found.append(_sum_points(row, row.plan))
    return found


def _make_batch_row(kind: Phrase, labels: tuple[str, ...], chart: Chart) -> ControlRow:
    return make_rate_row(
        say_what_stands_out(kind, flag_out(chart.points), len(chart.points)), labels, chart
    )


def _sum_points(row: PassRow, plan: BernoulliPlan) -> ControlRow:
    points = row.passes.points[-len(row.sums) :]
    flags = {
        at: phrase("the sum reached its limit")
        for at, value in enumerate(row.sums)
        if value >= plan.limit
    }
    return ControlRow(
        say_what_stands_out(
            phrase("Sum of points, stove by stove (Bernoulli CUSUM)"), flags, len(points)
        ),
        phrase("sum of points"),
        tuple(name_point(p[0], p[1]) for p in points),
        tuple(map(float, row.sums)),
        0.0,
        (None,) * len(points),
        (float(plan.limit),) * len(points),
        flags,
        point=phrase("sum so far"),
    )
