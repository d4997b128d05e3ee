"""Sheets of stove tags: A4, to cut and punch, each with its serial in large signs and as a QR code.

The code holds the serial as plain text and nothing else: whatever scans it opens nothing and learns nothing more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import segno

from qcapp.documents.typeset import typeset


@dataclass(frozen=True)
class Tag:
    """shown: as printed and scanned, perhaps with a check character; punched: the serial to strike into the metal."""

    shown: str
    punched: str


def build_tags_pdf(tags: Sequence[Tag], *, yard: str, batch: str, line: str, dated: datetime) -> bytes:
    """One tag each, 24 a page. batch: its code; line: what it is in a few words, such as its title and size."""
    given = {
        "yard": yard, "batch": batch, "line": line,
        "tags": [{"shown": tag.shown, "punched": tag.punched} for tag in tags],
        "has_checks": any(tag.shown != tag.punched for tag in tags),
    }
    return typeset("tags.typ", given, dated=dated, pictures={"codes": [_draw_code(tag.shown) for tag in tags]})


def _draw_code(text: str) -> str:
    # Dust and scratches: the second highest level at least, a higher one where it makes the code no larger.
    return segno.make(text, error="q", micro=False).svg_inline(border=4)
