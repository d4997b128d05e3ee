"""Yards as marks in a funnel: how many were inspected across, the failed share up, and the limits
between which chance alone leaves a yard.
"""

from collections.abc import Sequence

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
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.yard_comparison import Comparison, Limits, YardRate, find_limits

TOP, FOOT = 26, 210
HEIGHT = 250
STEPS = 40
COLUMNS = (
    phrase("Mark"),
    phrase("Name of the yard"),
    phrase("Failed"),
    phrase("Inspected"),
    phrase("Failed share"),
    phrase("95 %% limits"),
    phrase("99.8 %% limits"),
)


def draw_funnel(
    comparison: Comparison, *, title: str, name: str, locale: Locale = ENGLISH_WORDS
) -> Chart:
    """Marks have numbers, by the order of the yards. The comparison has a target."""
    target = comparison.target or 0.0
    sizes = [one.rate.inspected for one in comparison.yards]
    across = Scale(0.0, _round_up(max(sizes)), 44, WIDTH - 14)
    curve = _list_limits(comparison, target, min(sizes), across.high)
    shares = [one.rate.failed / one.rate.inspected for one in comparison.yards]
    up = Scale(0.0, find_top([*shares, *(limits.high for _, limits in curve)]), FOOT, TOP)
    parts = [*_axes(across, up), *_draw_limits(curve, across, up)]
    parts.append(line(across.start, up.place(target), across.end, up.place(target), "mean"))
    for number, one in enumerate(comparison.yards, 1):
        parts += _mark(number, one, across, up)
    return finish_chart(
        Picture(parts, HEIGHT, _list_keys(comparison, target)),
        title=title,
        description=join(SEMICOLON, map(_describe, comparison.yards)),
        name=name,
        columns=COLUMNS,
        rows=[_list_cells(number, one) for number, one in enumerate(comparison.yards, 1)],
        locale=locale,
    )


def _round_up(most: int) -> float:
    step = 10 ** max(0, len(str(most)) - 1)
    return float(
        next(step * share for share in (1, 1.5, 2, 3, 4, 5, 6, 8, 10) if step * share >= most)
    )


def _list_limits(
    comparison: Comparison, target: float, least: int, most: float
) -> list[tuple[int, Limits]]:
    between = comparison.dispersion.between if comparison.is_widened else 0.0
    start = max(1, least // 2)
    sizes = sorted({round(start + (most - start) * (at / STEPS) ** 2) for at in range(STEPS + 1)})
    return [(size, find_limits(target, size, between)) for size in sizes]


def _axes(across: Scale, up: Scale) -> list[str | Label]:
    parts: list[str | Label] = [
        line(across.start, FOOT, across.end, FOOT, "axis"),
        line(across.start, TOP, across.start, FOOT, "axis"),
        text(across.end, HEIGHT - 6, phrase("inspected"), anchor="end", kind="unit"),
        text(2, TOP - 10, phrase("failed share"), kind="unit"),
    ]
    parts += [
        text(across.start - 4, up.place(share) + 4, whole_percent(share), anchor="end")
        for share in (0.0, up.high / 2, up.high)
    ]
    parts += [
        text(across.place(size), FOOT + 17, f"{size:g}", anchor="middle")
        for size in (across.high / 2, across.high)
    ]
    return parts


def _draw_limits(
    curve: Sequence[tuple[int, Limits]], across: Scale, up: Scale
) -> list[str | Label]:
    sides = (("low", "limit"), ("high", "limit"), ("lowest", "curve"), ("highest", "curve"))
    return [
        f'<path class="{kind}" d="M'
        + "L".join(
            f"{across.place(n):g} {up.place(getattr(limits, side)):g}" for n, limits in curve
        )
        + '"/>'
        for side, kind in sides
    ]


def _name_line(comparison: Comparison, rate: str) -> Phrase:
    """Those that stand out are not in it, so it is not the share of all."""
    if any(one.place == "far_beyond" for one in comparison.yards):
        return phrase("the others together %(rate)s", rate=rate)
    return phrase("together %(rate)s", rate=rate)


def _list_keys(comparison: Comparison, target: float) -> list[Key]:
    """Of the marks that are drawn."""
    places = {one.place for one in comparison.yards}
    keys = [
        Key("line", "limit", phrase("95 %% limits")),
        Key("line", "curve", phrase("99.8 %% limits")),
        Key("line", "mean", _name_line(comparison, percent(target))),
    ]
    if "inside" in places:
        keys.append(Key("dot", "mark", phrase("a yard")))
    if "few" in places:
        keys.append(Key("dot", "mark few", phrase("too few to tell")))
    if places - {"inside", "few"}:
        keys.append(Key("corner", "mark above", phrase("outside the limits")))
    return keys


def _mark(number: int, one: YardRate, across: Scale, up: Scale) -> list[str | Label]:
    x, y = across.place(one.rate.inspected), up.place(one.rate.failed / one.rate.inspected)
    shapes = {
        "few": f'<circle class="mark few" cx="{x:g}" cy="{y:g}" r="6"/>',
        "inside": f'<circle class="mark" cx="{x:g}" cy="{y:g}" r="6"/>',
    }
    outside = f'<path class="mark above" d="M{x - 5:g} {y - 6:g}h11v12h-12v-11z"/>'
    left = x > across.end - 20
    place = x - 9 if left else x + 9
    number_text = text(place, y - 6, str(number), anchor="end" if left else "start", kind="count")
    return [shapes.get(one.place, outside), number_text]


def _describe(one: YardRate) -> Phrase:
    return phrase(
        "%(yard)s %(failed)s of %(inspected)s",
        yard=one.yard,
        failed=one.rate.failed,
        inspected=one.rate.inspected,
    )


def _list_cells(number: int, one: YardRate) -> tuple[str, ...]:
    limits = one.limits
    return (
        str(number),
        one.yard,
        str(one.rate.failed),
        str(one.rate.inspected),
        percent(one.rate.failed / one.rate.inspected),
        phrase("%(low)s to %(high)s", low=percent(limits.low), high=percent(limits.high)),
        phrase("%(low)s to %(high)s", low=percent(limits.lowest), high=percent(limits.highest)),
    )
