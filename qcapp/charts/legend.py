"""What each kind of mark in a picture is, below it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from qcapp.charts.label import CHARACTER, Label
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import translate_phrase

# In SVG units.
ROW, START, COLUMN, SAMPLE = 18, 8, 168, 24


@dataclass(frozen=True)
class Key:
    """shape: a name of SHAPES; kind: the mark's class in the picture; words: what it is."""

    shape: str
    kind: str
    words: str


def _line(x: float, y: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x:g} {y:g}h20"/>'


def _dot(x: float, y: float, kind: str) -> str:
    return f'<circle class="{kind}" cx="{x + 10:g}" cy="{y:g}" r="5"/>'


def _box(x: float, y: float, kind: str) -> str:
    return f'<rect class="{kind}" x="{x:g}" y="{y - 5:g}" width="20" height="10"/>'


def _knot(x: float, y: float, kind: str) -> str:
    return _line(x, y, "run") + _dot(x, y, kind)


def _whisker(x: float, y: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x:g} {y:g}h20M{x:g} {y - 5:g}v10M{x + 20:g} {y - 5:g}v10"/>'


def _upright(x: float, y: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x + 10:g} {y - 7:g}v14"/>'


def _corner(x: float, y: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x + 7:g} {y - 5:g}h8v10h-10v-8z"/>'


def _diamond(x: float, y: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x + 10:g} {y - 7:g}l7 7l-7 7l-7 -7z"/>'


SHAPES: dict[str, Callable[[float, float, str], str]] = {
    "line": _line,
    "dot": _dot,
    "box": _box,
    "knot": _knot,
    "whisker": _whisker,
    "upright": _upright,
    "corner": _corner,
    "diamond": _diamond,
}


def draw_legend(keys: Sequence[Key], top: float, locale: Locale) -> tuple[list[str], float]:
    """The samples with their words in two columns, and where they end. Words too long for a column
    have a row of their own.
    """
    parts, row, column = ['<g class="legend">'], 0, 0
    for key in keys:
        words = translate_phrase(locale, key.words)
        is_wide = SAMPLE + len(words) * CHARACTER > COLUMN - START - 4
        if column and is_wide:
            row, column = row + 1, 0
        x, y = START + column * (COLUMN - START), top + ROW * row + 10
        parts.append(SHAPES[key.shape](x, y, key.kind))
        parts.append(Label(x + SAMPLE, y + 5, key.words, "start", "label").write(locale))
        row, column = (row + 1, 0) if column or is_wide else (row, 1)
    if not keys:
        return [], top
    return [*parts, "</g>"], top + ROW * (row + (1 if column else 0)) + 4
