"""What became of a batch's stoves, as one bar whose pieces make up the whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import quoteattr

from qcapp.charts.frame import ENGLISH_WORDS
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import join, translate_phrase
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports.totals import OUTCOMES, WORDS

# A single stove of thousands is still seen.
MIN_PERCENT = 0.6
HEIGHT = 40
# Told apart without colour; what is released at once is solid, what is not inspected empty.
HATCHES = {
    "released_later": '<path class="hatch" d="M-2 10L10 -2M4 16L16 4"/>',
    "concession": '<circle class="dot" cx="6" cy="6" r="2.5"/>',
    "scrap": '<path class="hatch" d="M0 0L12 12M12 0L0 12"/>',
    "rework": '<path class="hatch" d="M-2 2L10 14M4 -4L16 8"/>',
    "hold": '<path class="hatch" d="M6 0V12"/>',
    "not_inspected": "",
}


@dataclass(frozen=True)
class Piece:
    """kind: a key of the totals' words; swatch: SVG of its look in a legend."""

    kind: str
    words: Phrase
    count: int
    swatch: str


@dataclass(frozen=True)
class OutcomeBar:
    """svg: the bar; pieces: its legend with the counts, which add up to `of` stoves."""

    svg: str
    pieces: tuple[Piece, ...]
    of: int


def draw_outcomes(
    stoves: Mapping[str, int], *, name: str, locale: Locale = ENGLISH_WORDS
) -> OutcomeBar:
    """stoves: counts by the keys of the totals. name: unique in the page, begins the patterns'
    ids. Pieces without a stove are left out.
    """
    kinds = [kind for kind in (*OUTCOMES, "not_inspected") if stoves.get(kind)]
    pieces = tuple(
        Piece(kind, WORDS[kind], stoves[kind], _draw_swatch(kind, name)) for kind in kinds
    )
    of = sum(piece.count for piece in pieces)
    said = join(", ", (join(" ", (str(piece.count), piece.words)) for piece in pieces))
    label = phrase("Of %(n)s stoves: %(outcomes)s", n=of, outcomes=said)
    svg = (
        f'<svg class="outcomes" role="img" height="{HEIGHT}" width="100%" '
        f"aria-label={quoteattr(translate_phrase(locale, label))}>"
        f"<defs>{''.join(_define(kind, name) for kind in kinds)}</defs>"
        f"{_draw_pieces(pieces, of, name)}</svg>"
    )
    return OutcomeBar(svg, pieces, of)


def _draw_pieces(pieces: tuple[Piece, ...], of: int, name: str) -> str:
    if not of:
        return ""
    shares = [max(100 * piece.count / of, MIN_PERCENT) for piece in pieces]
    whole, drawn, start = sum(shares), [], 0.0
    for piece, share in zip(pieces, shares, strict=True):
        width = 100 * share / whole
        drawn.append(
            f'<rect class="piece {piece.kind}" x="{start:.2f}%" y="1" width="{width:.2f}%" '
            f'height="{HEIGHT - 2}" fill="{_fill(piece.kind, name)}"/>'
        )
        start += width
    return "".join(drawn)


def _fill(kind: str, name: str) -> str:
    return f"url(#{name}-{kind})" if kind in HATCHES else "currentColor"


def _define(kind: str, name: str) -> str:
    if kind not in HATCHES:
        return ""
    return (
        f'<pattern id="{name}-{kind}" width="12" height="12" patternUnits="userSpaceOnUse">'
        f'<rect class="ground {kind}" width="12" height="12"/>{HATCHES[kind]}</pattern>'
    )


def _draw_swatch(kind: str, name: str) -> str:
    return (
        '<svg class="swatch" aria-hidden="true" width="22" height="16">'
        f'<rect class="piece {kind}" x="1" y="1" width="20" height="14" '
        f'fill="{_fill(kind, name)}"/></svg>'
    )
