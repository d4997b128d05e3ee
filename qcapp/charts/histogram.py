"""How often each value was measured, with the limits as lines."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import ENGLISH_WORDS, Chart, Picture, Scale, finish_chart, line, text
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, Figure, join
from qcapp.i18n.phrase import Phrase, phrase

TOP, BASE, HEIGHT = 34.0, 130.0, 168.0
ROOM = 0.05


@dataclass(frozen=True)
class Bin:
    """count values with low <= value < high, in the chart's unit."""

    low: float
    high: float
    count: int

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2


def draw_histogram(
    bins: Sequence[Bin],
    *,
    lower: float | None,
    upper: float | None,
    outside: int,
    unit: str,
    title: str,
    name: str,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """Bars beyond a limit are toned and hatched by their outline; the limit lines carry their
    values. title: what was measured; outside: how many values lie beyond a limit.
    """
    limits = _name_limits(lower, upper)
    across, up = _find_scales(bins, limits)
    shown = [one for one in bins if one.count]
    parts: list[str | Label] = [
        *(_bar(one, across, up, is_outside=_is_outside(one, lower, upper)) for one in shown),
        line(across.start, BASE, across.end, BASE, "axis"),
        *_limit_lines(limits, across),
        # Above the lines, so that a line does not strike a count out.
        *(_count_above(one, across, up) for one in shown),
        *_edges(bins, across, unit),
    ]
    return finish_chart(
        Picture(parts, HEIGHT, _list_keys(bins, lower, upper)),
        title=phrase(
            "%(what)s: %(n)s of %(of)s outside the limits",
            what=title,
            n=outside,
            of=sum(one.count for one in bins),
        ),
        description=_describe(bins, limits, unit),
        name=name,
        columns=(phrase("from"), phrase("to"), phrase("values")),
        rows=[(_figure(one.low), _figure(one.high), str(one.count)) for one in bins],
        locale=locale,
    )


def _find_scales(
    bins: Sequence[Bin], limits: Sequence[tuple[Phrase, float]]
) -> tuple[Scale, Scale]:
    ends = [bins[0].low, bins[-1].high, *(value for _word, value in limits)]
    room = (max(ends) - min(ends)) * ROOM or 1.0
    across = Scale(min(ends) - room, max(ends) + room, 8, WIDTH - 8)
    return across, Scale(0, max(one.count for one in bins), 0, BASE - TOP)


def _list_keys(bins: Sequence[Bin], lower: float | None, upper: float | None) -> list[Key]:
    """Of the marks that are drawn."""
    sides = {_is_outside(one, lower, upper) for one in bins if one.count}
    keys = [Key("box", "bar inside", phrase("inside the limits"))] if False in sides else []
    if True in sides:
        keys.append(Key("box", "bar outside", phrase("outside")))
    return (
        [*keys, Key("upright", "mean", phrase("limit"))] if (lower, upper) != (None, None) else keys
    )


def _describe(bins: Sequence[Bin], limits: Sequence[tuple[Phrase, float]], unit: str) -> Phrase:
    bars = (
        phrase(
            "%(low)s to %(high)s %(unit)s: %(count)s",
            low=_figure(one.low),
            high=_figure(one.high),
            unit=unit,
            count=one.count,
        )
        for one in bins
        if one.count
    )
    marked = (
        phrase("limit: %(side)s %(value)s %(unit)s", side=side, value=_figure(value), unit=unit)
        for side, value in limits
    )
    return join(". ", (join(SEMICOLON, bars), join(SEMICOLON, marked)))


def _figure(value: float) -> Figure:
    return Figure(f"{value:g}")


def _name_limits(lower: float | None, upper: float | None) -> list[tuple[Phrase, float]]:
    if lower is not None and lower == upper:
        return [(phrase("exactly"), lower)]
    return [
        (word, value)
        for word, value in ((phrase("lower"), lower), (phrase("upper"), upper))
        if value is not None
    ]


def _is_outside(one: Bin, lower: float | None, upper: float | None) -> bool:
    return (lower is not None and one.middle < lower) or (upper is not None and one.middle > upper)


def _bar(one: Bin, across: Scale, up: Scale, *, is_outside: bool) -> str:
    left, height = across.place(one.low), _rise(one, up)
    width = max(1.0, across.place(one.high) - left - 1)
    side = "outside" if is_outside else "inside"
    return (
        f'<rect class="bar {side}" x="{left:g}" y="{BASE - height:g}" '
        f'width="{width:g}" height="{height:g}"/>'
    )


def _count_above(one: Bin, across: Scale, up: Scale) -> Label:
    middle = (across.place(one.low) + across.place(one.high)) / 2
    return text(middle, BASE - _rise(one, up) - 3, str(one.count), anchor="middle", kind="count")


def _rise(one: Bin, up: Scale) -> float:
    """Even a single value among thousands must be seen."""
    return max(1.5, up.place(one.count))


def _limit_lines(limits: Sequence[tuple[Phrase, float]], across: Scale) -> list[str | Label]:
    parts: list[str | Label] = []
    for word, value in limits:
        x = across.place(value)
        # Near an edge the words would leave the picture: there they end or begin at the line.
        anchor = "start" if x < 60 else "end" if x > WIDTH - 60 else "middle"
        parts += [
            line(x, 16, x, BASE + 4, "mean"),
            text(x, 12, join(" ", (word, _figure(value))), anchor=anchor),
        ]
    return parts


def _edges(bins: Sequence[Bin], across: Scale, unit: str) -> list[Label]:
    words = phrase("%(unit)s; figures above the bars: how many", unit=unit)
    return [*_ends(bins, across), text(8, BASE + 33, words, kind="unit")]


def _ends(bins: Sequence[Bin], across: Scale) -> list[Label]:
    low, high = bins[0], bins[-1]
    if across.place(high.high) - across.place(low.low) < 110:
        words = phrase("%(low)s to %(high)s", low=_figure(low.low), high=_figure(high.high))
        return [text(across.place((low.low + high.high) / 2), BASE + 17, words, anchor="middle")]
    left, right = across.place(low.low), across.place(high.high)
    first = text(left, BASE + 17, _figure(low.low), anchor="start" if left < 30 else "middle")
    return [
        first,
        text(min(right, WIDTH - 8), BASE + 17, _figure(high.high), anchor="end"),
    ]
