"""Where everything lies on the printed frame that the phone measures holes by.

The same figures as in static/phone/js/holes/frame.js (tests/holes/test_frame.py holds them equal).
Millimetres from the sheet's middle, to the right and down; a sheet turned by half a turn looks the
same.
"""

from typing import Literal

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
