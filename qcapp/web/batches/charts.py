"""A batch in drawings: faults stove by stove, the batches before, what a sample lets through."""

from qcapp.charts.control import draw_control
from qcapp.charts.frame import Chart
from qcapp.charts.outgoing import draw_outgoing_curve
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.reports.batch import BatchReport
from qcapp.reports.batch_series import BatchPoint, chart_batches
from qcapp.reports.control_row import ControlRow, make_count_row
from qcapp.reports.earlier import EarlierBatches
from qcapp.reports.plan import AgreedPlan
from qcapp.stats.attribute_charts import c_chart


def draw_by_stove(report: BatchReport) -> Chart:
    """A c chart: every stove is one unit, looked at for the same checks."""
    chart = c_chart([faults for _serial, faults in report.by_stove])
    labels = tuple(
        phrase("%(serial)s: %(faults)s", serial=serial, faults=faults)
        for serial, faults in report.by_stove
    )
    row = make_count_row("", phrase("faults on a stove"), labels, chart, point=phrase("one stove"))
    return _draw(row, _title_stoves(row), f"stoves-{report.stage}")


def _title_stoves(row: ControlRow) -> Phrase:
    out = len(row.flags)
    most = int(max(row.values))
    if not out:
        return phrase(
            "Faults stove by stove (c chart): none stands out, at most %(most)s on one stove",
            most=most,
        )
    return phrase_n(
        "Faults stove by stove (c chart): %(n)s stove stands out, with up to %(most)s faults",
        "Faults stove by stove (c chart): %(n)s stoves stand out, with up to %(most)s faults",
        out,
        most=most,
    )


def draw_earlier(code: str, earlier: EarlierBatches) -> list[Chart]:
    """This batch as the last point behind those before it."""
    faults = earlier.faults
    points = [
        *(BatchPoint(one.code, one.inspected, one.good, one.faults) for one in earlier.counts),
        *([BatchPoint(code, earlier.of, earlier.good, faults)] if earlier.of else []),
    ]
    return [
        _draw(row, row.title, f"earlier-{place}") for place, row in enumerate(chart_batches(points))
    ]


def _draw(row: ControlRow, title: str, name: str) -> Chart:
    named = ControlRow(**{**vars(row), "title": title})
    return draw_control(named, name=name, locale=get_active_locale())


def draw_outgoing(plan: AgreedPlan) -> Chart | None:
    """Of the limit for major faults; None where every stove is looked at."""
    limit = plan.find_limit("major")
    if plan.inspect == "every" or limit.aql is None or limit.n >= plan.lot:
        return None
    return draw_outgoing_curve(
        plan.lot, limit.n, limit.ac, name="outgoing", locale=get_active_locale()
    )
