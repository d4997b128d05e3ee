"""What the faults of each step cost, as bars on one scale of money, the dearest on top."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, log10

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    finish_chart,
    line,
    percent,
    text,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import Phrase, phrase

ROW, TOP = 42, 4


@dataclass(frozen=True)
class CostBar:
    """money: of so many faults."""

    label: str
    faults: int
    money: Decimal


def draw_costs(
    bars: Sequence[CostBar],
    *,
    total: Decimal,
    currency: str,
    name: str,
    locale: Locale = ENGLISH_WORDS,
) -> Chart:
    """bars: at least one, of one currency; total: with those that are not drawn."""
    top = _find_top(float(max(bar.money for bar in bars)))
    across = Scale(0.0, top, 0, WIDTH - 20)
    bottom = TOP + ROW * len(bars) + 6
    parts: list[str | Label] = []
    for place, bar in enumerate(bars):
        parts += _draw_bar(bar, TOP + ROW * place, across)
    parts += _axis(across, bottom, currency)
    return finish_chart(
        Picture(parts, bottom + 42, [Key("box", "bar", phrase("cost of the step's faults"))]),
        title=_say_dearest(bars[0], total, currency),
        description=join("; ", map(_describe, bars)),
        name=name,
        columns=(
            phrase("step"),
            phrase("faults"),
            phrase("cost (%(unit)s)", unit=currency),
            phrase("share of all"),
        ),
        rows=tuple(
            (bar.label, str(bar.faults), _write(bar.money), percent(float(bar.money / total)))
            for bar in bars
        ),
        locale=locale,
    )


def _say_dearest(dearest: CostBar, total: Decimal, currency: str) -> Phrase:
    return phrase(
        "%(step)s costs most: %(money)s of %(total)s %(currency)s",
        step=dearest.label,
        money=_write(dearest.money),
        total=_write(total),
        currency=currency,
    )


def _describe(bar: CostBar) -> Phrase:
    return phrase(
        "%(step)s: %(money)s, %(n)s faults",
        step=bar.label,
        money=_write(bar.money),
        n=bar.faults,
    )


def _draw_bar(bar: CostBar, top: float, across: Scale) -> list[str | Label]:
    width = max(2.0, across.place(float(bar.money)))
    words = phrase("%(money)s for %(n)s faults", money=_write(bar.money), n=bar.faults)
    return [
        text(0, top + 15, bar.label),
        text(WIDTH - 4, top + 15, words, anchor="end", kind="label quiet"),
        f'<rect class="bar" x="0" y="{top + 21:g}" width="{width:g}" height="14"/>',
    ]


def _axis(across: Scale, y: float, currency: str) -> list[str | Label]:
    parts: list[str | Label] = [line(across.start, y, across.end, y, "axis")]
    for share, anchor in ((0.0, "start"), (0.5, "middle"), (1.0, "end")):
        x = across.place(share * across.high)
        parts.append(line(x, y, x, y + 4, "axis"))
        parts.append(text(x, y + 18, f"{share * across.high:g}", anchor=anchor))
    parts.append(text(0, y + 36, currency, kind="unit"))
    return parts


def _find_top(largest: float) -> float:
    """A round number that holds it: 1, 2, 4, 5 or 10 times a power of ten."""
    power = 10.0 ** floor(log10(largest)) if largest > 0 else 1.0
    steps = ceil(largest / power - 1e-9)
    return power * next(step for step in (1, 2, 4, 6, 8, 10) if steps <= step)


def _write(money: Decimal) -> Figure:
    return Figure(f"{money:.2f}")
