"""A batch's share of good stoves beside the yard's batches before, on one axis."""

from collections.abc import Mapping
from typing import Any

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    finish_chart,
    line,
    percent,
    text,
    whole_percent,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import Phrase, phrase

LEFT, RIGHT = 14, WIDTH - 14
BAND_TOP, BAND_BOTTOM, AXIS = 12, 62, 72
HEIGHT = AXIS + 46


def draw_earlier(
    earlier: Mapping[str, Any],
    first_pass: Mapping[str, Any],
    *,
    name: str,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """earlier, first_pass: as the issued summary has them (shares as decimal text)."""
    here = first_pass["good"] / first_pass["of"]
    before = _count(earlier["good"], earlier["stoves"])
    spread = _say_range(earlier["lowest"], earlier["highest"])
    expected = _say_range(earlier["expected_low"], earlier["expected_high"])
    return finish_chart(
        Picture(_draw_marks(earlier, here), HEIGHT, _list_keys(earlier["batches"])),
        title=_say_finding(earlier, here),
        description=join(SEMICOLON, (before, spread, expected)),
        name=name,
        columns=(phrase("Good at the first inspection"), phrase("Share")),
        rows=(
            (phrase("this batch"), _count(first_pass["good"], first_pass["of"])),
            (phrase("batches before, together"), before),
            (_say_batches(earlier["batches"]), spread),
            (phrase("95 of 100 batches made like them"), expected),
        ),
        locale=locale,
    )


def _draw_marks(earlier: Mapping[str, Any], here: float) -> list[str | Label]:
    scale = Scale(0.0, 1.0, LEFT, RIGHT)
    low, high, least, most = (
        scale.place(float(earlier[name]))
        for name in ("expected_low", "expected_high", "lowest", "highest")
    )
    before = scale.place(earlier["good"] / earlier["stoves"])
    return [
        _draw_band(low, high),
        line(least, 26, most, 26, "interval"),
        line(before, 18, before, 34, "interval"),
        _draw_batch(scale.place(here), is_within=earlier["is_within"]),
        *_draw_axis(scale),
    ]


def _say_range(low: str, high: str) -> Phrase:
    return phrase("%(low)s to %(high)s", low=percent(float(low)), high=percent(float(high)))


def _say_finding(earlier: Mapping[str, Any], here: float) -> Phrase:
    if earlier["is_within"]:
        return phrase("This batch is like the %(n)s before it", n=earlier["batches"])
    if here > float(earlier["expected_high"]):
        return phrase(
            "More stoves were good than in the %(n)s batches before", n=earlier["batches"]
        )
    return phrase("Fewer stoves were good than in the %(n)s batches before", n=earlier["batches"])


def _draw_band(start: float, end: float) -> str:
    height = BAND_BOTTOM - BAND_TOP
    box = f'x="{start:g}" y="{BAND_TOP}" width="{end - start:g}" height="{height}"'
    return f'<rect class="band" {box}/>'


def _draw_batch(x: float, *, is_within: bool) -> str:
    kind = "mark" if is_within else "mark above"
    return f'<circle class="{kind}" cx="{x:g}" cy="48" r="7"/>'


def _count(good: int, of: int) -> Phrase:
    return phrase("%(good)s of %(of)s, %(share)s", good=good, of=of, share=percent(good / of))


def _say_batches(batches: int) -> Phrase:
    return phrase("lowest to highest of %(n)s batches before", n=batches)


def _draw_axis(scale: Scale) -> list[str | Label]:
    parts: list[str | Label] = [line(LEFT, AXIS, RIGHT, AXIS, "axis")]
    for share, anchor in ((0.0, "start"), (0.5, "middle"), (1.0, "end")):
        x = scale.place(share)
        parts += [
            line(x, AXIS, x, AXIS + 5, "axis"),
            text(x, AXIS + 19, whole_percent(share), anchor=anchor),
        ]
    words = phrase("stoves good at the first inspection")
    parts.append(text(WIDTH / 2, AXIS + 36, words, anchor="middle", kind="unit"))
    return parts


def _list_keys(batches: int) -> list[Key]:
    return [
        Key("dot", "mark", phrase("this batch")),
        Key("whisker", "interval", phrase("the %(n)s batches before", n=batches)),
        Key("box", "band", phrase("where 95 of 100 batches like them lie")),
    ]
