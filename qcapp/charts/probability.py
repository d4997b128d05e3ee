"""Are the readings normal: a normal probability plot, straight where they are."""

from collections.abc import Sequence

from qcapp.charts.frame import ENGLISH_WORDS, WIDTH, Chart, Picture, Scale, finish_chart, line, text
from qcapp.charts.label import Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import phrase
from qcapp.stats.capability import normal_places

HEIGHT = 246
TOP, BOTTOM = 26, 192


def draw_probability(
    readings: Sequence[float],
    *,
    mean: float,
    sd: float,
    limits: Sequence[float],
    unit: str,
    title: str,
    name: str,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """Readings (across) against where they would stand if normal (up, in standard deviations).

    limits: dashed, none to two; equal readings stand above each other.
    """
    given = sorted(readings)
    places = normal_places(len(given))
    low, high = min(*given, *limits), max(*given, *limits)
    room = (high - low or 1.0) * 0.05
    across = Scale(low - room, high + room, 14, WIDTH - 14)
    up = Scale(min(-2.5, *places), max(2.5, *places), BOTTOM, TOP)
    parts: list[str | Label] = [line(across.start, BOTTOM, across.end, BOTTOM, "axis")]
    ends = (-2.5, 2.5)
    parts.append(
        line(
            across.place(mean + ends[0] * sd),
            up.place(ends[0]),
            across.place(mean + ends[1] * sd),
            up.place(ends[1]),
            "normal",
        )
    )
    for limit in limits:
        x = across.place(limit)
        parts.append(line(x, TOP, x, BOTTOM, "mean"))
        parts.append(
            text(
                x,
                BOTTOM + 30,
                phrase("limit %(value)s", value=Figure(f"{limit:g}")),
                anchor="start" if x < WIDTH / 2 else "end",
            )
        )
    parts += _marks(given, places, across, up)
    parts += [
        text(across.place(given[at]), BOTTOM + 15, Figure(f"{given[at]:.4g}"), anchor="middle")
        for at in (0, -1)
    ]
    parts += [
        text(2, 15, phrase("place if normal (standard deviations)"), kind="unit"),
        text(WIDTH - 8, BOTTOM + 48, unit, anchor="end", kind="unit"),
    ]
    description = phrase(
        "%(readings)s readings from %(low)s to %(high)s %(unit)s, mean %(mean)s, standard "
        "deviation %(sd)s; they lie on a straight line if they are normal",
        readings=len(given),
        low=Figure(f"{given[0]:g}"),
        high=Figure(f"{given[-1]:g}"),
        unit=unit,
        mean=Figure(f"{mean:.4g}"),
        sd=Figure(f"{sd:.3g}"),
    )
    rows = tuple((Figure(f"{value:g}"), str(count)) for value, count in _count(given))
    columns = (phrase("reading (%(unit)s)", unit=unit), phrase("stoves"))
    return finish_chart(
        Picture(parts, HEIGHT, _list_keys(limits)),
        title=title,
        description=description,
        name=name,
        columns=columns,
        rows=rows,
        locale=locale,
    )


def _list_keys(limits: Sequence[float]) -> list[Key]:
    keys = [
        Key("dot", "mark plain", phrase("one reading")),
        Key("line", "normal", phrase("normal distribution")),
    ]
    return [*keys, Key("upright", "mean", phrase("limits"))] if limits else keys


def _marks(given: Sequence[float], places: Sequence[float], across: Scale, up: Scale) -> list[str]:
    # Marks on the same spot are drawn once: 400 circles weigh more than they show.
    spots = {
        (across.place(value), round(up.place(z) / 2) * 2)
        for value, z in zip(given, places, strict=True)
    }
    return [f'<circle class="mark plain" cx="{x:g}" cy="{y:g}" r="3"/>' for x, y in sorted(spots)]


def _count(given: Sequence[float]) -> list[tuple[float, int]]:
    counts: dict[float, int] = {}
    for value in given:
        counts[round(value, 3)] = counts.get(round(value, 3), 0) + 1
    return list(counts.items())
