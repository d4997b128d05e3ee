"""Dots with their intervals in the rows of a table, all of them on one axis.

The pictures are hidden from those who cannot see them: the cells beside them have the counts, and
the table behind them all the figures.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Scale,
    find_top,
    line,
    text,
    whole_percent,
    write_parts,
)
from qcapp.charts.groups import GroupMark
from qcapp.charts.label import Label
from qcapp.charts.rate_words import COLUMNS, list_cells
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import translate_phrase
from qcapp.i18n.phrase import phrase

# In SVG units.
WIDTH, ROW_HEIGHT, AXIS_HEIGHT, HEAD_HEIGHT = 216, 34, 18, 80


@dataclass(frozen=True)
class DotColumn:
    """head: what each mark is, and the axis; dots: SVG of each row; axis: once more, for the foot.

    columns, cells: the table behind, one row for each mark.
    """

    head: str
    dots: tuple[str, ...]
    axis: str
    columns: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]


def draw_dot_column(
    rows: Sequence[tuple[str, Sequence[GroupMark]]], enough: int, *, locale: Locale = ENGLISH_WORDS
) -> DotColumn:
    """rows: the name of each with its groups. enough: see scale_dots."""
    scale = scale_dots([mark for _name, own in rows for mark in own], enough)
    columns = (phrase("what"), *COLUMNS)
    cells = [(name, *list_cells(mark)) for name, own in rows for mark in own]

    def translate(text: str) -> str:
        return translate_phrase(locale, text)

    return DotColumn(
        head=_wrap([*_legend(), *_ticks(scale, HEAD_HEIGHT - 4)], HEAD_HEIGHT, locale),
        dots=tuple(draw_dots(own, scale) for _name, own in rows),
        axis=_wrap(_ticks(scale, 13), AXIS_HEIGHT, locale),
        columns=tuple(map(translate, columns)),
        cells=tuple(tuple(map(translate, row)) for row in cells),
    )


def scale_dots(marks: Sequence[GroupMark], enough: int) -> Scale:
    """The common axis of a column of dots. It holds every interval of a group with enough
    inspected; that of two or three would leave no room for the others.
    """
    large = [mark.high for mark in marks if mark.inspected >= enough]
    highest = max(large, default=1.0)
    return Scale(0.0, find_top([highest]), 8, WIDTH - 12)


def _legend() -> list[str | Label]:
    return [
        '<circle class="mark" cx="14" cy="10" r="6"/>',
        text(26, 15, phrase("apprentices")),
        '<path class="mark few" d="M112 5h10v10h-10z"/>',
        text(128, 15, phrase("experienced")),
        line(8, 29, 28, 29, "interval"),
        text(36, 34, phrase("95 %% interval")),
        text(8, 55, phrase("share with a fault"), kind="unit"),
    ]


def _ticks(scale: Scale, y: float) -> list[str | Label]:
    return [
        text(scale.place(share), y, whole_percent(share), anchor=anchor)
        for share, anchor in ((0.0, "start"), (scale.high / 2, "middle"), (scale.high, "end"))
    ]


def draw_dots(marks: Sequence[GroupMark], scale: Scale) -> str:
    """SVG of one row: a line for each interval, a dot or, where the group is not toned, a hollow
    square for each rate.
    """
    parts: list[str | Label] = [
        line(scale.place(share), 0, scale.place(share), ROW_HEIGHT, "grid")
        for share in (0.0, scale.high / 2, scale.high)
    ]
    for mark in marks:
        y, x = (10 if mark.is_toned else 24), scale.place(mark.rate)
        parts.append(line(scale.place(mark.low), y, scale.place(mark.high), y, "interval"))
        if mark.high > scale.high:
            parts.append(f'<path class="interval" d="M{scale.end - 5:g} {y - 5:g}l6 5l-6 5"/>')
        if mark.rate > scale.high:
            continue
        parts.append(
            f'<circle class="mark" cx="{x:g}" cy="{y:g}" r="6"/>'
            if mark.is_toned
            else f'<path class="mark few" d="M{x - 5:g} {y - 5:g}h10v10h-10z"/>'
        )
    return _wrap(parts, ROW_HEIGHT, ENGLISH_WORDS)


def _wrap(parts: Sequence[str | Label], height: float, locale: Locale) -> str:
    head = f'<svg class="chart dots" viewBox="0 0 {WIDTH} {height:g}" aria-hidden="true">'
    return head + write_parts(parts, locale) + "</svg>"
