"""A row of a table as a run of months: a dot for each month's failed share, on one axis for all."""

from collections.abc import Sequence

from qcapp.charts.frame import Scale, find_top, line, text, write_parts
from qcapp.charts.label import Label
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.yard_comparison import Month

WIDTH, HEIGHT, HEAD_HEIGHT = 150, 44, 84


def scale_months(rows: Sequence[Sequence[Month]], enough: int) -> Scale:
    """The common axis upwards; months of few stoves do not stretch it."""
    shares = [one.failed / one.inspected for row in rows for one in row if one.inspected >= enough]
    return Scale(0.0, find_top(shares), HEIGHT - 8, 8)


def draw_months_head(locale: Locale) -> str:
    """What each mark is, and the unit: SVG for the head of the table."""
    parts: list[str | Label] = [
        '<path class="run" d="M4 10L24 10"/><circle class="mark" cx="14" cy="10" r="5"/>',
        text(32, 15, phrase("one month")),
        '<circle class="mark few" cx="14" cy="30" r="5"/>',
        text(32, 35, phrase("too few to tell")),
        line(4, 50, 24, 50, "mean"),
        text(32, 55, phrase("line as above")),
        text(4, 76, phrase("share with a fault"), kind="unit"),
    ]
    head = f'<svg class="chart dots" viewBox="0 0 {WIDTH} {HEAD_HEIGHT}">'
    return head + write_parts(parts, locale) + "</svg>"


def draw_months(
    months: Sequence[Month], all_months: Sequence[str], scale: Scale, target: float, enough: int
) -> str:
    """SVG, hidden from who cannot see it: the table beside it has the figures. all_months: of the
    axis across. A month of fewer than `enough` is hollow.
    """
    across = Scale(0.0, max(1.0, len(all_months) - 1.0), 9, WIDTH - 9)
    spots = [
        (across.place(all_months.index(one.month)), scale.place(one.failed / one.inspected), one)
        for one in months
        if one.inspected
    ]
    run = "L".join(f"{x:g} {y:g}" for x, y, _ in spots)
    parts = [line(4, scale.place(target), WIDTH - 4, scale.place(target), "mean")]
    if len(spots) > 1:
        parts.append(f'<path class="run" d="M{run}"/>')
    for x, y, one in spots:
        kind = "mark" if one.inspected >= enough else "mark few"
        parts.append(f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="5"/>')
    head = f'<svg class="chart dots" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true">'
    return head + "".join(parts) + "</svg>"
