"""What every chart has: a title, a description, one scale, and a table with the same numbers.

Charts are SVG text without colours of their own: classes are styled by the page, so that they
print in black and white and follow the page's theme. Widths are in SVG units; the page scales
them to its column, and at 328 units the text is still 13 px on a phone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

WIDTH = 328


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
    return next(top for top in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0) if largest <= top or top == 1.0)


def wrap_svg(parts: Sequence[str], *, height: float, title: str, description: str, name: str) -> str:
    """name: unique in the page; links the picture to its title and description."""
    head = (
        f'<svg class="chart" viewBox="0 0 {WIDTH} {height:g}" role="img" '
        f"aria-labelledby={quoteattr(f'{name}-title {name}-text')}>"
        f"<title id={quoteattr(f'{name}-title')}>{escape(title)}</title>"
        f"<desc id={quoteattr(f'{name}-text')}>{escape(description)}</desc>"
    )
    return head + "".join(parts) + "</svg>"


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x1:g} {y1:g}L{x2:g} {y2:g}"/>'


def text(x: float, y: float, words: str, *, anchor: str = "start", kind: str = "label") -> str:
    return f'<text class="{kind}" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{escape(words)}</text>'


def percent(share: float) -> str:
    """Below ten percent with one decimal, so that a small rate does not read as 0."""
    return f"{share * 100:.1f} %" if 0 < share < 0.0995 else f"{share * 100:.0f} %"
