"""Sheets of stove tags: A4, to cut and punch, each with its serial in large characters and as a QR
code.

The code holds the serial as plain text and nothing else: whatever scans it opens nothing and learns
nothing more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import segno

from qcapp.documents.paper_words import SLOTS, prepare
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import ENGLISH, phrase


@dataclass(frozen=True)
class Tag:
    """label: as printed and scanned, perhaps with a check character; punched: the serial to strike
    into the metal.
    """

    label: str
    punched: str


def build_tags_pdf(
    tags: Sequence[Tag],
    *,
    yard: str,
    batch: str,
    line: str,
    dated: datetime,
    language: str = ENGLISH,
) -> bytes:
    """One tag each, 24 a page. batch: its code; line: what it is in a few words (perhaps a phrase),
    such as its title and size.
    """
    given = {
        "yard": yard,
        "batch": batch,
        "line": line,
        "tags": [{"label": tag.label, "punched": tag.punched} for tag in tags],
        "has_checks": any(tag.label != tag.punched for tag in tags),
        "texts": _list_texts(batch),
    }
    return typeset(
        "tags.typ",
        prepare(given, load_locale(language)),
        dated=dated,
        pictures={"codes": [_draw_code(tag.label) for tag in tags]},
    )


def _list_texts(batch: str) -> dict[str, str]:
    return {
        "name": phrase("stove tags, batch %(batch)s", batch=batch),
        "title": phrase("Stove tags, batch %(batch)s", batch=batch),
        "batch": phrase("Batch %(batch)s", batch=batch),
        "punch": phrase("Punch %(serial)s", **SLOTS),
        "qr": phrase("QR code that says %(text)s", **SLOTS),
        "use": phrase(
            "Only for the yard and the road: paper, paint and stickers burn off. The mark that "
            "lasts is the serial punched into the metal. Cut along the dashed lines, punch out "
            "the ring, tie with wire; take the tag off before the stove is lit."
        ),
        "check_character": phrase(
            "The character after the point shows typing errors: type it too, but do not punch it."
        ),
        "codes_in_code": phrase(
            "Characters that the fonts do not have are shown as %(sign)s; the QR code has them "
            "as written.",
            **SLOTS,
        ),
    }


def _draw_code(text: str) -> str:
    # Dust and scratches: the second highest level at least, a higher one where it makes the code no
    # larger.
    return segno.make(text, error="q", micro=False).svg_inline(border=4)
