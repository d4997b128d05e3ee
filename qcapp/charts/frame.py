"""What every chart has: a title, a description, one scale, and a table with the same numbers.

Charts are SVG text without colours of their own: classes are styled by the page, so that they
print in black and white and follow the page's theme. Widths are in SVG units; the page scales
them to its column, and at 328 units the text is still 13 px on a phone.

Words stay phrases until `finish_chart`, the one place that says them in a language.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from xml.sax.saxutils import escape, quoteattr

from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key, draw_legend
from qcapp.i18n.catalogue import Locale, load_locale
from qcapp.i18n.localized_text import Figure, translate_phrase
from qcapp.i18n.phrase import ENGLISH, Phrase, phrase

ENGLISH_WORDS = load_locale(ENGLISH)


@dataclass(frozen=True)
class Chart:
    """svg: the picture; columns, rows: the same figures as a table, as text."""

    title: str
    svg: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Scale:
    """A straight map from [low, high] to [start, end] units."""

    low: float
    high: float
    start: float
    end: float

    def place(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(self.start + min(1.0, max(0.0, share)) * (self.end - self.start), 1)


def find_top(values: Sequence[float]) -> float:
    """The end of a scale of rates: a round share that holds every value, at least 10 %."""
    largest = max(values, default=0.0)
    return next(
        top for top in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0) if largest <= top or top == 1.0
    )


def list_ticks(low: float, high: float) -> list[float]:
    """The multiples of 1, 2 or 5 times a power of ten in [low, high], three to seven of them."""
    power = 10.0 ** floor(log10((high - low) / 3))
    step = power * next(most for most in (5, 2, 1) if most * power * 3 <= (high - low) * 1.0001)
    return [step * at for at in range(ceil(low / step), floor(high / step) + 1)]


@dataclass(frozen=True)
class Picture:
    """What is drawn, how high it is, and its legend, which is set below."""

    parts: Sequence[str | Label]
    height: float
    keys: Sequence[Key]


def finish_chart(
    picture: Picture,
    *,
    title: str,
    description: str,
    name: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    locale: Locale,
) -> Chart:
    """The chart, its phrases said in one language.

    title: the finding. name: unique in the page; links the picture to its title and description.
    """

    def translate(text: str) -> str:
        return translate_phrase(locale, text)

    legend, foot = draw_legend(picture.keys, picture.height, locale)
    svg = _wrap_svg(
        [write_parts(picture.parts, locale), *legend],
        height=foot,
        title=translate(title),
        description=translate(description),
        name=name,
    )
    return Chart(
        translate(title),
        svg,
        tuple(map(translate, columns)),
        tuple(tuple(map(translate, row)) for row in rows),
    )


def write_parts(parts: Sequence[str | Label], locale: Locale) -> str:
    """SVG of the parts, their words said in one language."""
    return "".join(part.write(locale) if isinstance(part, Label) else part for part in parts)


def _wrap_svg(
    parts: Sequence[str], *, height: float, title: str, description: str, name: str
) -> str:
    head = (
        f'<svg class="chart" viewBox="0 0 {WIDTH} {height:g}" role="img" '
        f"aria-labelledby={quoteattr(f'{name}-title {name}-text')}>"
        f"<title id={quoteattr(f'{name}-title')}>{escape(title)}</title>"
        f"<desc id={quoteattr(f'{name}-text')}>{escape(description)}</desc>"
    )
    return head + "".join(parts) + "</svg>"


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x1:g} {y1:g}L{x2:g} {y2:g}"/>'


def text(x: float, y: float, words: str, *, anchor: str = "start", kind: str = "label") -> Label:
    return Label(x, y, words, anchor, kind)


def percent(share: float) -> Phrase:
    """Below ten percent with one decimal, so that a small rate does not read as 0."""
    return (
        whole_percent(share)
        if not 0 < share < 0.0995
        else phrase("%(figure)s %%", figure=Figure(f"{share * 100:.1f}"))
    )


def whole_percent(share: float) -> Phrase:
    return phrase("%(figure)s %%", figure=Figure(f"{share * 100:.0f}"))
