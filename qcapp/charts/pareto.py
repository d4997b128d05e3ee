"""Fault kinds as bars, the most frequent on top, with the running share."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    finish_chart,
    percent,
    text,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import Phrase, phrase

ROW = 42


@dataclass(frozen=True)
class Bar:
    """so_far: failed checks up to this bar, of all `of`."""

    label: str
    count: int
    so_far: int
    of: int


def draw_pareto(
    bars: Sequence[Bar], *, title: str, name: str, locale: Locale = ENGLISH_WORDS
) -> Chart:
    scale = Scale(0, max((bar.count for bar in bars), default=1), 0, WIDTH - 175)
    parts: list[str | Label] = []
    for place, bar in enumerate(bars):
        parts += _draw_bar(bar, ROW * place, scale)
    if bars:
        parts.append(text(0, ROW * len(bars) + 13, phrase("failed checks"), kind="unit"))
    rows = tuple((bar.label, str(bar.count), _word_share(bar)) for bar in bars)
    described = (
        phrase(
            "%(fault)s: %(count)s, running share %(share)s", fault=label, count=count, share=share
        )
        for label, count, share in rows
    )
    description = join(SEMICOLON, described) or phrase("no fault found")
    columns = (phrase("fault"), phrase("failed checks"), phrase("running share"))
    return finish_chart(
        Picture(
            parts,
            ROW * len(bars) + 20,
            [Key("box", "bar", phrase("failed checks with this fault"))] if bars else [],
        ),
        title=title,
        description=description,
        name=name,
        columns=columns,
        rows=rows,
        locale=locale,
    )


def _draw_bar(bar: Bar, top: float, scale: Scale) -> list[str | Label]:
    width = max(2.0, scale.place(bar.count))
    reached = phrase(
        "%(count)s (up to here %(so_far)s of %(of)s)",
        count=bar.count,
        so_far=bar.so_far,
        of=bar.of,
    )
    return [
        text(0, top + 15, bar.label),
        f'<rect class="bar" x="0" y="{top + 21:g}" width="{width:g}" height="14"/>',
        text(width + 6, top + 33, reached, kind="label quiet"),
    ]


def _word_share(bar: Bar) -> Phrase:
    return phrase(
        "%(so_far)s of %(of)s, %(share)s",
        so_far=bar.so_far,
        of=bar.of,
        share=percent(bar.so_far / bar.of),
    )
