"""A control chart: points in the order made, a centre, limits, and the points that stand out."""

from collections.abc import Sequence
from math import floor, log10

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    finish_chart,
    line,
    list_ticks,
    text,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, Figure, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.control_row import ControlRow

LEFT, TOP, BOTTOM = 46, 34, 172
MAX_UNIT = 4
# More marks than this run into each other on a phone: then only flagged ones are drawn.
MAX_MARKS = 80


def draw_control(row: ControlRow, *, name: str, locale: Locale = ENGLISH_WORDS) -> Chart:
    """Limits dashed, flagged points cornered and larger, the likely beginning of a drift as a
    line.
    """
    across = Scale(0, max(1, len(row.values) - 1), LEFT + 8, WIDTH - 10)
    up = _scale_up(row)
    parts: list[str | Label] = [
        line(across.start, up.place(row.centre), across.end, up.place(row.centre), "centre")
    ]
    parts += [_limit(side, across, up) for side in (row.lows, row.highs)]
    if row.other is not None:
        parts.append(_join(row.other, across, up))
    parts.append(_join(row.values, across, up))
    if row.began is not None:
        x = across.place(row.began)
        parts.append(line(x, TOP, x, BOTTOM, "began"))
        parts.append(text(min(max(x, 90), WIDTH - 40), 28, phrase("began here"), anchor="middle"))
    parts += [
        _mark(at, row, across, up)
        for at in range(len(row.values))
        if at in row.flags or _draws_all(row)
    ]
    words = _words(row)
    parts += [*_axis(row, up), *words]
    columns = (
        phrase("point"),
        phrase("value (%(unit)s)", unit=row.unit),
        phrase("limits"),
        phrase("stands out"),
    )
    return finish_chart(
        Picture(parts, max([BOTTOM, *(label.y for label in words)]) + 8, _list_keys(row)),
        title=row.title,
        description=_describe(row),
        name=name,
        columns=columns,
        rows=_list_rows(row),
        locale=locale,
    )


def _draws_all(row: ControlRow) -> bool:
    return len(row.values) <= MAX_MARKS


def _axis(row: ControlRow, up: Scale) -> list[str | Label]:
    """The value's axis with its unit above it; ticks at round values and the centre."""
    parts: list[str | Label] = [
        line(LEFT, TOP, LEFT, BOTTOM, "axis"),
        text(2, 13, row.unit, kind="unit"),
    ]
    ticks = list_ticks(up.low, up.high)
    texts = {
        value: _tick(value, ticks[1] - ticks[0])
        for value in ticks
        if abs(up.place(value) - up.place(row.centre)) > 15
    }
    # The centre is a figure of its own, unless it stands at a tick.
    near = [value for value in ticks if abs(value - row.centre) < 1e-9]
    texts[row.centre] = _tick(row.centre, ticks[1] - ticks[0]) if near else _figure(row.centre)
    for value, words in texts.items():
        parts.append(line(LEFT - 4, up.place(value), LEFT, up.place(value), "axis"))
        parts.append(text(LEFT - 6, up.place(value) + 4, words, anchor="end"))
    return parts


def _tick(value: float, step: float) -> Figure:
    """With the decimals that tell it from the next one, and no more."""
    digits = f"{value:.{max(0, -floor(log10(step) + 1e-9))}f}"
    return Figure(digits.replace("-", "−") if float(digits) else digits.lstrip("-"))


def _list_keys(row: ControlRow) -> list[Key]:
    """Of the marks that are drawn."""
    point = row.point or phrase("in the order made")
    keys = [Key("knot", "mark", point) if _draws_all(row) else Key("line", "run", point)]
    keys.append(Key("line", "centre", row.centre_is or phrase("centre")))
    if any(limit is not None for limit in (*row.lows, *row.highs)):
        keys.append(Key("line", "mean", phrase("limits")))
    if row.flags:
        keys.append(Key("corner", "mark above plain", phrase("stands out")))
    if row.began is not None:
        keys.append(Key("upright", "began", phrase("began here")))
    return keys


def _scale_up(row: ControlRow) -> Scale:
    seen = [
        *row.values,
        *(row.other or ()),
        row.centre,
        *(limit for limit in (*row.lows, *row.highs) if limit is not None),
    ]
    low, high = min(seen), max(seen)
    room = (high - low or 1.0) * 0.06
    # A count or a rate has no place below nothing.
    bottom = 0.0 if low >= 0 and low - room < 0 else low - room
    return Scale(bottom, high + room, BOTTOM, TOP)


def _limit(side: Sequence[float | None], across: Scale, up: Scale) -> str:
    """A step for each point, so that limits of batches of different size are seen as they are."""
    half = (across.place(1) - across.place(0)) / 2
    path = ""
    for at, limit in enumerate(side):
        if limit is None:
            return ""
        x, y = across.place(at), up.place(limit)
        start, end = max(across.start, x - half), min(across.end, x + half)
        path += f"{'L' if path else 'M'}{start:g} {y:g}L{end:g} {y:g}"
    return f'<path class="mean" d="{path}"/>'


def _join(values: Sequence[float], across: Scale, up: Scale) -> str:
    places = (f"{across.place(at):g} {up.place(value):g}" for at, value in enumerate(values))
    return f'<path class="run" d="M{"L".join(places)}"/>'


def _mark(at: int, row: ControlRow, across: Scale, up: Scale) -> str:
    x, y = across.place(at), up.place(row.values[at])
    if row.other is not None and abs(row.other[at]) > abs(row.values[at]):
        y = up.place(row.other[at])
    if at in row.flags:
        # Small where they stand close, so that each is still seen.
        size = 10 if len(row.values) <= MAX_MARKS else 5
        corner = f"M{x - size * 0.3:g} {y - size / 2:g}"
        outline = f"{corner}h{size * 0.8:g}v{size}h-{size}v-{size * 0.8:g}z"
        return f'<path class="mark above plain" d="{outline}"/>'
    return f'<circle class="mark" cx="{x:g}" cy="{y:g}" r="3"/>'


def _words(row: ControlRow) -> list[Label]:
    """Below the picture, where no line runs through them: the first and last point, the lines'
    figures where there are limits.
    """
    if not row.labels:
        return []
    ends = [
        text(10, BOTTOM + 18, row.labels[0]),
        text(WIDTH - 10, BOTTOM + 34, row.labels[-1], anchor="end"),
    ]
    limits = _range(row.lows[-1], row.highs[-1])
    if not limits:
        return ends
    lines = phrase(
        "centre %(centre)s; newest limits %(limits)s %(unit)s",
        centre=_figure(row.centre),
        limits=limits,
        # A long one would run out of the picture; it stands above the axis anyway.
        unit=row.unit if len(row.unit) <= MAX_UNIT else "",
    )
    return [*ends, text(10, BOTTOM + 54, lines, kind="label quiet")]


def _figure(value: float) -> Figure:
    digits = f"{value:.2f}" if abs(value) < 10 else f"{value:.1f}"
    return Figure(digits.replace("-", "−") if float(digits) else digits.lstrip("-"))


def _describe(row: ControlRow) -> Phrase:
    words: list[str] = [
        phrase(
            "%(points)s points, centre %(centre)s %(unit)s",
            points=len(row.values),
            centre=_figure(row.centre),
            unit=row.unit,
        )
    ]
    if row.began is not None:
        words.append(phrase("likely start %(point)s", point=row.labels[row.began]))
    found = [
        phrase(
            "%(point)s: %(value)s %(found)s",
            point=row.labels[at],
            value=_figure(row.values[at]),
            found=flag,
        )
        for at, flag in sorted(row.flags.items())[:12]
    ]
    return join(SEMICOLON, [*words, *(found or [phrase("none stands out")])])


def _list_rows(row: ControlRow) -> tuple[tuple[str, ...], ...]:
    both = [
        (value,) if row.other is None else (value, row.other[at])
        for at, value in enumerate(row.values)
    ]
    return tuple(
        (
            label,
            join(" / ", map(_figure, both[at])),
            _range(row.lows[at], row.highs[at]),
            row.flags.get(at, ""),
        )
        for at, label in enumerate(row.labels)
    )


def _range(low: float | None, high: float | None) -> str:
    if high is None:
        return ""
    if low is None:
        return phrase("up to %(high)s", high=_figure(high))
    return phrase("%(low)s to %(high)s", low=_figure(low), high=_figure(high))
