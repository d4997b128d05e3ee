"""Where everything lies on the printed frame that the phone measures holes by.

The same figures as in static/phone/js/holes/frame.js; tests/documents/test_photo_frame.py holds it.
Millimetres from the sheet's middle, to the right and down; a sheet turned by half a turn looks the
same.
"""

from datetime import datetime
from typing import Literal

from qcapp.documents.paper_words import prepare
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import ENGLISH, phrase

Paper = Literal["a4", "letter"]

# Width and height of the sheets.
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARK_SIDE = 10.0
RULER_LENGTH = 180.0
# Circles to cut out: each some millimetres larger than a grate, the last the largest allowed.
OPENING_RADII = (66.0, 81.0, 95.0)
HALF_WIDTH = 92.0
HALF_HEIGHTS: dict[Paper, float] = {"a4": 135.0, "letter": 126.0}
# Uneven gaps: no tiled floor and no chessboard has such a row.
COLUMNS = (-HALF_WIDTH, -36.0, 28.0, HALF_WIDTH)
SIDES = (-76.0, 88.0)


def list_marks(paper: Paper) -> list[tuple[float, float]]:
    """Middles of the twelve marks, clockwise from the top left."""
    top = [(x, -HALF_HEIGHTS[paper]) for x in COLUMNS]
    half = [*top, *((HALF_WIDTH, y) for y in SIDES)]
    return [*half, *((-x, -y) for x, y in half)]


def place_ruler(paper: Paper) -> float:
    """How far below the middle the control ruler lies: between the opening and the marks."""
    return (HALF_HEIGHTS[paper] - MARK_SIDE / 2 + OPENING_RADII[-1]) / 2


def build_photo_frame_pdf(
    paper: Paper, *, yard: str, dated: datetime, language: str = ENGLISH
) -> bytes:
    """The frame on one sheet, to be printed at its own size and glued on stiff card."""
    width, height = PAPERS[paper]
    given = {
        "yard": yard,
        "width": width,
        "height": height,
        "marks": [list(one) for one in list_marks(paper)],
        "side": MARK_SIDE,
        "openings": list(OPENING_RADII),
        "ruler": RULER_LENGTH,
        "ruler_y": place_ruler(paper),
        "texts": _list_texts(),
    }
    return typeset("photo_frame.typ", prepare(given, load_locale(language)), dated=dated)


def _list_texts() -> dict[str, object]:
    return {
        "title": phrase("Frame for holes by photo"),
        "marks": phrase("Twelve black squares round three circles to cut along, and a ruler"),
        "ruler": phrase(
            "Control ruler, 180 mm. Measure it with a steel rule and type in what you read: "
            "printers change sizes."
        ),
        "steps": [
            phrase("1. Print at actual size (100 %%). Glue it flat on stiff card."),
            phrase("2. Cut out along the circle that is next larger than the grate."),
            phrase("3. Grate on a dark cloth. Frame round it, level with its face, on blocks."),
            phrase(
                "4. No sun on one half. Phone straight above, all twelve squares in the picture."
            ),
        ],
    }
