"""Are the readings normal: a normal probability plot, straight where they are."""

from collections.abc import Sequence

from qcapp.charts.frame import ENGLISH_WORDS, Chart, Picture, Scale, finish_chart, line, text
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.stats.capability import normal_places

HEIGHT = 246
TOP, BOTTOM = 26, 192
# The line and the axis reach at least so many standard deviations to each side.
SHOWN_SD = 2.5


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
    across, up = _find_scales(given, places, limits)
    parts: list[str | Label] = [
        line(across.start, BOTTOM, across.end, BOTTOM, "axis"),
        _normal_line(mean, sd, across, up),
    ]
    for limit in limits:
        parts += _limit_line(limit, across)
    parts += [*_marks(given, places, across, up), *_name_axes(given, across, unit)]
    return finish_chart(
        Picture(parts, HEIGHT, _list_keys(limits)),
        title=title,
        description=_describe(given, mean, sd, unit),
        name=name,
        columns=(phrase("reading (%(unit)s)", unit=unit), phrase("stoves")),
        rows=tuple((Figure(f"{value:g}"), str(count)) for value, count in _count(given)),
        locale=locale,
    )


def _find_scales(
    given: Sequence[float], places: Sequence[float], limits: Sequence[float]
) -> tuple[Scale, Scale]:
    low, high = min(*given, *limits), max(*given, *limits)
    room = (high - low or 1.0) * 0.05
    return (
        Scale(low - room, high + room, 14, WIDTH - 14),
        Scale(min(-SHOWN_SD, *places), max(SHOWN_SD, *places), BOTTOM, TOP),
    )


def _normal_line(mean: float, sd: float, across: Scale, up: Scale) -> str:
    """Where readings of this mean and standard deviation would lie if they were normal."""
    return line(
        across.place(mean - SHOWN_SD * sd),
        up.place(-SHOWN_SD),
        across.place(mean + SHOWN_SD * sd),
        up.place(SHOWN_SD),
        "normal",
    )


def _limit_line(limit: float, across: Scale) -> list[str | Label]:
    x = across.place(limit)
    # The words lean towards the middle of the picture, where there is room for them.
    anchor = "start" if x < WIDTH / 2 else "end"
    words = phrase("limit %(value)s", value=Figure(f"{limit:g}"))
    return [line(x, TOP, x, BOTTOM, "mean"), text(x, BOTTOM + 30, words, anchor=anchor)]


def _name_axes(given: Sequence[float], across: Scale, unit: str) -> list[Label]:
    ends = [
        text(across.place(value), BOTTOM + 15, Figure(f"{value:.4g}"), anchor="middle")
        for value in (given[0], given[-1])
    ]
    return [
        *ends,
        text(2, 15, phrase("place if normal (standard deviations)"), kind="unit"),
        text(WIDTH - 8, BOTTOM + 48, unit, anchor="end", kind="unit"),
    ]


def _describe(given: Sequence[float], mean: float, sd: float, unit: str) -> Phrase:
    return phrase(
        "%(readings)s readings from %(low)s to %(high)s %(unit)s, mean %(mean)s, standard "
        "deviation %(sd)s; they lie on a straight line if they are normal",
        readings=len(given),
        low=Figure(f"{given[0]:g}"),
        high=Figure(f"{given[-1]:g}"),
        unit=unit,
        mean=Figure(f"{mean:.4g}"),
        sd=Figure(f"{sd:.3g}"),
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
