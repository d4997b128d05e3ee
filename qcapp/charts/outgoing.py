"""What goes out after inspection by sample, against what is made: the average outgoing quality."""

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
from qcapp.i18n.phrase import phrase
from qcapp.stats.operating import OutgoingPoint, find_outgoing_limit, outgoing_curve

LEFT, RIGHT, TOP, BOTTOM = 46, WIDTH - 10, 34, 172
HEIGHT = BOTTOM + 42
# The table holds every fifth point of the curve.
EVERY = 5
KEYS = (
    Key("line", "curve", phrase("average")),
    Key("line", "mean", phrase("worst average (AOQL)")),
    Key("dot", "mark", phrase("where the worst is reached")),
)


def draw_outgoing_curve(
    lot: int, n: int, ac: int, *, name: str, locale: Locale = ENGLISH_WORDS
) -> Chart:
    """The share of stoves that go out with a fault for each share made; the worst one marked."""
    worst = find_outgoing_limit(lot, n, ac)
    most = find_top([3 * worst.made])
    curve = outgoing_curve(lot, n, ac, min(most, 0.999))
    across = Scale(0.0, most, LEFT, RIGHT)
    up = Scale(0.0, find_top([worst.outgoing]), BOTTOM, TOP)
    parts = [*_axes(across, up), *_lines(curve, worst, across, up)]
    rows = tuple((percent(p.made), percent(p.outgoing)) for p in curve[::EVERY])
    return finish_chart(
        Picture(parts, HEIGHT, KEYS),
        title=phrase(
            "On average at most %(share)s of the stoves leave the yard with a major fault",
            share=percent(worst.outgoing),
        ),
        description=phrase(
            "It rises to %(share)s when %(made)s are made with one, then falls, because more "
            "batches are rejected and fully inspected.",
            share=percent(worst.outgoing),
            made=percent(worst.made),
        ),
        name=name,
        columns=(phrase("made with a major fault"), phrase("leave the yard with one")),
        rows=rows,
        locale=locale,
    )


def _axes(across: Scale, up: Scale) -> list[str | Label]:
    parts: list[str | Label] = [
        line(LEFT, BOTTOM, RIGHT, BOTTOM, "axis"),
        line(LEFT, TOP, LEFT, BOTTOM, "axis"),
        text(2, 13, phrase("leave the yard with a major fault"), kind="unit"),
    ]
    parts += [
        text(LEFT - 6, up.place(share) + 4, percent(share), anchor="end")
        for share in (0.0, up.high / 2, up.high)
    ]
    parts += [
        text(across.place(share), BOTTOM + 18, whole_percent(share), anchor=anchor)
        for share, anchor in ((0.0, "middle"), (across.high / 2, "middle"), (across.high, "end"))
    ]
    middle = (LEFT + RIGHT) / 2
    parts.append(text(middle, BOTTOM + 36, phrase("made with a major fault"), anchor="middle"))
    return parts


def _lines(
    curve: Sequence[OutgoingPoint], worst: OutgoingPoint, across: Scale, up: Scale
) -> list[str]:
    steps = "L".join(f"{across.place(p.made):g} {up.place(p.outgoing):g}" for p in curve)
    y = up.place(worst.outgoing)
    return [
        f'<path class="curve" d="M{steps}"/>',
        line(LEFT, y, RIGHT, y, "mean"),
        f'<circle class="mark" cx="{across.place(worst.made):g}" cy="{y:g}" r="5"/>',
    ]
