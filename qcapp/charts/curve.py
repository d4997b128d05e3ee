"""Runs of stoves as marks with their intervals, the experienced makers' band beside, and the
learning curve with its band where there is one."""

from collections.abc import Callable, Sequence
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
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import Phrase, phrase

HEIGHT = 236
LEFT, RIGHT, TOP, BOTTOM = 48, WIDTH - 8, 30, 194
COLUMNS = (
    phrase("in the order recorded"),
    phrase("failed"),
    phrase("inspected"),
    phrase("rate"),
    phrase("interval"),
)


@dataclass(frozen=True)
class CurvePoint:
    made: int
    rate: float
    low: float
    high: float


@dataclass(frozen=True)
class RunMark:
    """Stoves `first` to `last` as they were recorded. low, high: interval of the rate."""

    first: int
    last: int
    failed: int
    inspected: int
    low: float
    high: float

    @property
    def rate(self) -> float:
        return self.failed / self.inspected


def draw_curve(
    runs: Sequence[RunMark],
    points: Sequence[CurvePoint],
    *,
    experienced: tuple[float, float] | None,
    title: str,
    name: str,
    is_from_first: bool,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """experienced: (low, high) of the experienced makers' rate, or None. is_from_first: stove 1 is
    the first that the artisan made, and not only the first recorded.
    """
    across, up = _find_scales(runs, points, experienced)
    parts = [
        *_experienced_band(experienced, up),
        *_axes(across, up, is_from_first=is_from_first),
        *_curve(points, across, up),
    ]
    for run in runs:
        parts += _draw_run(run, across, up)
    rows = [_list_cells(run) for run in runs]
    return finish_chart(
        Picture(parts, HEIGHT, _list_keys(runs, points, experienced)),
        title=title,
        description=join(SEMICOLON, map(_describe, rows)),
        name=name,
        columns=COLUMNS,
        rows=rows,
        locale=locale,
    )


def _find_scales(
    runs: Sequence[RunMark], points: Sequence[CurvePoint], band: tuple[float, float] | None
) -> tuple[Scale, Scale]:
    """Across: stoves made; up: the share with a fault, with room for every interval of a run."""
    most = max([run.last for run in runs] + [point.made for point in points] + [1])
    highs = [run.high for run in runs] + [point.rate for point in points]
    top = find_top([*highs, band[1] if band else 0.0])
    return Scale(0, most, LEFT, RIGHT), Scale(0.0, top, BOTTOM, TOP)


def _draw_run(run: RunMark, across: Scale, up: Scale) -> list[str]:
    x, y = across.place((run.first + run.last) / 2), up.place(run.rate)
    return [
        line(across.place(run.first), y, across.place(run.last), y, "run"),
        line(x, up.place(run.low), x, up.place(run.high), "whisker"),
        f'<circle class="mark" cx="{x:g}" cy="{y:g}" r="5"/>',
    ]


def _list_cells(run: RunMark) -> tuple[str, ...]:
    """The run's row under COLUMNS."""
    return (
        phrase("%(first)s to %(last)s", first=run.first, last=run.last),
        str(run.failed),
        str(run.inspected),
        percent(run.rate),
        phrase("%(low)s to %(high)s", low=percent(run.low), high=percent(run.high)),
    )


def _describe(row: tuple[str, ...]) -> Phrase:
    made, failed, of, rate, interval = row
    return phrase(
        "%(made)s: %(failed)s of %(of)s, %(rate)s (%(interval)s)",
        made=made,
        failed=failed,
        of=of,
        rate=rate,
        interval=interval,
    )


def _list_keys(
    runs: Sequence[RunMark], points: Sequence[CurvePoint], band: tuple[float, float] | None
) -> list[Key]:
    """Of the marks that are drawn."""
    keys = []
    if runs:
        keys += [
            Key("knot", "mark", phrase("one run")),
            Key("upright", "whisker", phrase("95 %% interval")),
        ]
    if band:
        keys.append(Key("box", "band", phrase("experienced artisans")))
    if len(points) > 1:
        keys += [
            Key("line", "curve", phrase("learning curve")),
            Key("line", "curve-end", phrase("its 95 %% band")),
        ]
    return keys


def _axes(across: Scale, up: Scale, *, is_from_first: bool) -> list[str | Label]:
    parts: list[str | Label] = [
        line(LEFT, BOTTOM, RIGHT, BOTTOM, "axis"),
        line(LEFT, TOP, LEFT, BOTTOM, "axis"),
        text(2, 15, phrase("share with a fault"), kind="unit"),
    ]
    parts += [
        text(LEFT - 6, up.place(share) + 5, whole_percent(share), anchor="end")
        for share in (0.0, up.high / 2, up.high)
    ]
    parts += [
        text(across.place(made), BOTTOM + 18, f"{made:.0f}", anchor=anchor)
        for made, anchor in ((0, "middle"), (across.high / 2, "middle"), (across.high, "end"))
    ]
    words = (
        phrase("made with this step") if is_from_first else phrase("recorded; earlier ones unknown")
    )
    parts.append(text((LEFT + RIGHT) / 2, BOTTOM + 36, words, anchor="middle"))
    return parts


def _experienced_band(band: tuple[float, float] | None, up: Scale) -> list[str | Label]:
    if band is None:
        return []
    low, high = up.place(band[0]), up.place(band[1])
    size = f'width="{RIGHT - LEFT}" height="{max(low - high, 1):g}"'
    return [f'<rect class="band" x="{LEFT}" y="{high:g}" {size}/>']


def _curve(points: Sequence[CurvePoint], across: Scale, up: Scale) -> list[str]:
    if len(points) < 2:
        return []

    def path(kind: str, value: Callable[[CurvePoint], float]) -> str:
        steps = "L".join(
            f"{across.place(point.made):g} {up.place(value(point)):g}" for point in points
        )
        return f'<path class="{kind}" d="M{steps}"/>'

    return [
        path("curve-end", lambda point: point.low),
        path("curve-end", lambda point: point.high),
        path("curve", lambda point: point.rate),
    ]
