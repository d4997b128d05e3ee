"""What the programme's page says of a comparison: its finding, its charts, its table as a file."""

from collections.abc import Mapping
from dataclasses import dataclass

from qcapp.charts.frame import Chart
from qcapp.charts.funnel import draw_funnel
from qcapp.charts.months import draw_months, draw_months_head, scale_months
from qcapp.documents.table_files import Cell, Table
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.reports.yard_comparison import Comparison, YardRate

COLUMNS = (
    "yard",
    "checklist",
    "revision",
    "checklist_hash",
    "size",
    "failed",
    "inspected",
    "left_out",
    "failed_share",
    "drawn_in_share",
    "low_95",
    "high_95",
    "low_99_8",
    "high_99_8",
    "place",
)


@dataclass(frozen=True)
class ComparisonView:
    """by_yard: (number of its mark, its figures, picture of its months) by name; months_head: what
    the marks of these pictures are; failed, inspected: of the yards together.
    """

    finding: Phrase
    chart: Chart
    by_yard: Mapping[str, tuple[int, YardRate, str]]
    first_month: str
    last_month: str
    months_head: str
    failed: int
    inspected: int


def view_comparison(comparison: Comparison, *, min_count: int, locale: Locale) -> ComparisonView:
    """Of a comparison with a target."""
    finding = say_finding(comparison)
    seen = sorted({month.month for one in comparison.yards for month in one.months})
    scale = scale_months([one.months for one in comparison.yards], min_count)
    target = comparison.target or 0.0
    return ComparisonView(
        finding,
        draw_funnel(comparison, title=finding, name="funnel", locale=locale),
        {
            one.yard: (number, one, draw_months(one.months, seen, scale, target, min_count))
            for number, one in enumerate(comparison.yards, 1)
        },
        seen[0],
        seen[-1],
        draw_months_head(locale),
        sum(one.rate.failed for one in comparison.yards),
        sum(one.rate.inspected for one in comparison.yards),
    )


def say_finding(comparison: Comparison) -> Phrase:
    """One sentence. Worse yards first: they are who can be helped."""
    judged = [one for one in comparison.yards if one.place != "few"]
    if len(judged) < 2:
        return phrase("Too few yards or stoves to compare yet")
    worse, better = (
        [_with_counts(one) for one in judged if one.place == "far_beyond" and one.side == side]
        for side in ("worse", "better")
    )
    if worse and better:
        return phrase(
            "More faults than the others beyond chance: %(worse)s; fewer: %(better)s",
            worse=join(", ", worse),
            better=join(", ", better),
        )
    if worse:
        return phrase(
            "More faults than the others beyond chance: %(worse)s", worse=join(", ", worse)
        )
    if better:
        return phrase(
            "Fewer faults than the others beyond chance: %(better)s", better=join(", ", better)
        )
    return phrase_n(
        "%(n)s yard, none shown to differ from the others",
        "%(n)s yards, none shown to differ from the others",
        len(judged),
    )


def _with_counts(one: YardRate) -> Phrase:
    return phrase(
        "%(yard)s (%(failed)s of %(of)s)",
        yard=one.yard,
        failed=one.rate.failed,
        of=one.rate.inspected,
    )


def list_table(comparison: Comparison, checklist_id: str, revision: int) -> Table:
    """The comparison as a file: codes and plain numbers."""
    rows: list[tuple[Cell, ...]] = [
        (
            one.yard,
            checklist_id,
            revision,
            comparison.checklist,
            comparison.size,
            *_list_figures(one),
        )
        for one in comparison.yards
    ]
    return Table("yards", COLUMNS, rows)


def _list_figures(one: YardRate) -> tuple[Cell, ...]:
    rate, limits = one.rate, one.limits
    return (
        rate.failed,
        rate.inspected,
        one.unsure,
        round(rate.failed / rate.inspected, 6),
        *(round(x, 6) for x in (rate.rate, limits.low, limits.high, limits.lowest, limits.highest)),
        one.place,
    )
