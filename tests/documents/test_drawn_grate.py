"""The demo's drawn grates show the figures that are proposed with them."""

from io import BytesIO
from math import dist, hypot

import numpy as np
import pytest
from PIL import Image

from qcapp.documents.drawn_grate import PX_PER_MM, DrawnGrate, draw_grate

MEDIUM = DrawnGrate(width=16.0, web=10.0, margin=15.0)


def test_holes_lie_as_far_apart_as_is_said():
    holes = MEDIUM.list_holes()
    assert len(holes) == 19
    nearest = min(dist(a, b) for place, a in enumerate(holes) for b in holes[:place])
    assert nearest - MEDIUM.width == pytest.approx(MEDIUM.web)
    outermost = max(hypot(*hole) for hole in holes)
    assert MEDIUM.radius - outermost - MEDIUM.width / 2 == pytest.approx(MEDIUM.margin)


def test_pictures_are_small_and_drawn_to_scale():
    photo, overlay = draw_grate(MEDIUM)
    assert photo != overlay and max(len(photo), len(overlay)) < 20_000
    seen = np.asarray(Image.open(BytesIO(photo)).convert("L"))
    # Along the middle row: clay between five dark holes, dark cloth round it.
    row = seen[seen.shape[0] // 2] < 70
    edges = np.flatnonzero(np.diff(row.astype(int)))
    middle = seen.shape[1] / 2
    width = [edge for edge in edges if abs(edge - middle) < MEDIUM.width * PX_PER_MM]
    assert (width[1] - width[0]) / PX_PER_MM == pytest.approx(MEDIUM.width, abs=1)
    assert np.count_nonzero(np.diff(row.astype(int)) == 1) == 7
