"""How often each value was measured, with the limits as lines."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import WIDTH, Chart, Scale, line, text, wrap_svg

TOP, BASE, HEIGHT = 34.0, 130.0, 152.0
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


def draw_histogram(bins: Sequence[Bin], *, lower: float | None, upper: float | None, unit: str, title: str, name: str) -> Chart:
    """Bars beyond a limit are toned and hatched by their outline; the limit lines carry their values."""
    limits = _name_limits(lower, upper)
    ends = [bins[0].low, bins[-1].high, *(value for _word, value in limits)]
    room = (max(ends) - min(ends)) * ROOM or 1.0
    across = Scale(min(ends) - room, max(ends) + room, 8, WIDTH - 8)
    up = Scale(0, max(one.count for one in bins), 0, BASE - TOP)
    parts = [_bar(one, across, up, is_outside=_is_outside(one, lower, upper)) for one in bins if one.count]
    parts.append(line(across.start, BASE, across.end, BASE, "axis"))
    parts += _limit_lines(limits, across)
    # Above the lines, so that a line does not strike a count out.
    parts += [text((across.place(one.low) + across.place(one.high)) / 2, BASE - _rise(one, up) - 3, str(one.count), anchor="middle", kind="count") for one in bins if one.count]
    parts += _edges(bins, across, unit)
    words = "; ".join(f"{one.low:g} to {one.high:g} {unit}: {one.count}" for one in bins if one.count)
    told = "; ".join(f"limit: {word} {value:g} {unit}" for word, value in limits)
    svg = wrap_svg(parts, height=HEIGHT, title=title, description=f"{words}. {told}", name=name)
    return Chart(title, svg, ("from", "to", "values"), tuple((f"{one.low:g}", f"{one.high:g}", str(one.count)) for one in bins))


def _name_limits(lower: float | None, upper: float | None) -> list[tuple[str, float]]:
    if lower is not None and lower == upper:
        return [("exactly", lower)]
    return [(word, value) for word, value in (("lower", lower), ("upper", upper)) if value is not None]


def _is_outside(one: Bin, lower: float | None, upper: float | None) -> bool:
    return (lower is not None and one.middle < lower) or (upper is not None and one.middle > upper)


def _bar(one: Bin, across: Scale, up: Scale, *, is_outside: bool) -> str:
    left, height = across.place(one.low), _rise(one, up)
    width = max(1.0, across.place(one.high) - left - 1)
    return f'<rect class="bar {"outside" if is_outside else "inside"}" x="{left:g}" y="{BASE - height:g}" width="{width:g}" height="{height:g}"/>'


def _rise(one: Bin, up: Scale) -> float:
    """Even a single value among thousands must be seen."""
    return max(1.5, up.place(one.count))


def _limit_lines(limits: Sequence[tuple[str, float]], across: Scale) -> list[str]:
    parts = []
    for word, value in limits:
        x = across.place(value)
        # Near an edge the words would leave the picture: there they end or begin at the line.
        anchor = "start" if x < 60 else "end" if x > WIDTH - 60 else "middle"
        parts += [line(x, 16, x, BASE + 4, "mean"), text(x, 12, f"{word} {value:g}", anchor=anchor)]
    return parts


def _edges(bins: Sequence[Bin], across: Scale, unit: str) -> list[str]:
    low, high = bins[0], bins[-1]
    if across.place(high.high) - across.place(low.low) < 110:
        return [text(across.place((low.low + high.high) / 2), BASE + 17, f"{low.low:g} to {high.high:g} {unit}", anchor="middle")]
    left, right = across.place(low.low), across.place(high.high)
    return [text(left, BASE + 17, f"{low.low:g}", anchor="start" if left < 30 else "middle"), text(min(right, WIDTH - 8), BASE + 17, f"{high.high:g} {unit}", anchor="end")]
