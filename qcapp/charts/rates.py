"""Rates of several people or groups on one scale: a mark for the rate, a line for its interval."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    find_top,
    finish_chart,
    line,
    percent,
    text,
    whole_percent,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.charts.rate_words import COLUMNS, describe_mark, list_cells
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import phrase

ROW = 44
TOP = 22


@dataclass(frozen=True)
class RateMark:
    """shape: round (not shown to differ), cornered (above), pointed (below), hollow (too few to
    tell).
    """

    label: str
    failed: int
    inspected: int
    rate: float
    low: float
    high: float
    shape: str


def draw_rates(
    marks: Sequence[RateMark],
    *,
    mean: float | None,
    title: str,
    name: str,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """mean: the rate of the average artisan, drawn as a dashed line. Labels stand above their line,
    so that long names have the whole width.
    """
    scale = Scale(0.0, find_top([mark.high for mark in marks]), 8, WIDTH - 8)
    height = TOP + ROW * len(marks) + 40
    parts = _axis(scale, height)
    if mean is not None:
        x = scale.place(mean)
        parts.append(text(min(x, WIDTH - 90), 13, phrase("average %(rate)s", rate=percent(mean))))
        # In pieces, so that the line does not run through the names.
        parts += [
            line(x, TOP + ROW * place + 20, x, TOP + ROW * place + 41, "mean")
            for place in range(len(marks))
        ]
    for place, mark in enumerate(marks):
        parts += _row(mark, TOP + ROW * place, scale)
    description = join(SEMICOLON, map(describe_mark, marks)) or phrase("nothing inspected")
    return finish_chart(
        Picture(parts, height, _list_keys(marks, mean)),
        title=title,
        description=description,
        name=name,
        columns=COLUMNS,
        rows=[list_cells(mark) for mark in marks],
        locale=locale,
    )


def _list_keys(marks: Sequence[RateMark], mean: float | None) -> list[Key]:
    """Of the marks that are drawn."""
    words = {
        "round": Key("dot", "mark", phrase("not shown to differ")),
        "cornered": Key("corner", "mark above", phrase("above the average")),
        "pointed": Key("diamond", "mark", phrase("below the average")),
        "hollow": Key("dot", "mark few", phrase("too few to tell")),
    }
    keys = [words[shape] for shape in words if any(mark.shape == shape for mark in marks)]
    if marks:
        keys.append(Key("line", "interval", phrase("95 %% interval")))
    return keys if mean is None else [*keys, Key("upright", "mean", phrase("average artisan"))]


def _axis(scale: Scale, height: float) -> list[str | Label]:
    y = height - 36
    parts: list[str | Label] = [line(scale.start, y, scale.end, y, "axis")]
    for share, anchor in ((0.0, "start"), (scale.high / 2, "middle"), (scale.high, "end")):
        parts.append(line(scale.place(share), y - 4, scale.place(share), y, "axis"))
        parts.append(text(scale.place(share), y + 14, whole_percent(share), anchor=anchor))
    words = phrase("share with a fault, allowing for chance")
    return [*parts, text(8, y + 31, words, kind="unit")]


def _row(mark: RateMark, top: float, scale: Scale) -> list[str | Label]:
    y = top + 30
    x = scale.place(mark.rate)
    shapes = {
        "round": f'<circle class="mark" cx="{x:g}" cy="{y:g}" r="6"/>',
        "cornered": f'<path class="mark above" d="M{x - 4:g} {y - 7:g}h11v14h-14v-11z"/>',
        "pointed": f'<path class="mark" d="M{x:g} {y - 8:g}l8 8l-8 8l-8 -8z"/>',
        "hollow": f'<circle class="mark few" cx="{x:g}" cy="{y:g}" r="6"/>',
    }
    return [
        text(8, top + 17, mark.label),
        text(
            WIDTH - 8,
            top + 17,
            phrase("%(failed)s of %(of)s", failed=mark.failed, of=mark.inspected),
            anchor="end",
        ),
        line(scale.place(mark.low), y, scale.place(mark.high), y, "interval"),
        shapes[mark.shape],
    ]
