"""Pictures in place of photos: fit to be sent, ringed at the part, and saying what they are."""

from io import BytesIO

import pytest
from PIL import Image, ImageChops

from qcapp.documents import drawn_photo
from qcapp.documents.drawn_photo import DRAWN_HEIGHT, draw_photo, find_part
from qcapp.sync.image import find_image_error
from tests.builders import ROOT

DRAWINGS = {path.name: path.read_text() for path in (ROOT / "checklists").glob("*.svg")}
LINES = ("B1-001: Too wide", "105 mm")


def open_picture(content):
    return Image.open(BytesIO(content)).convert("RGB")


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_server_takes_it_as_a_photo(name):
    assert find_image_error(draw_photo(DRAWINGS[name], "nowhere", LINES)) is None


def test_part_is_ringed_where_it_is():
    drawing = DRAWINGS["round-stove.svg"]
    ringed = open_picture(draw_photo(drawing, "door-opening", LINES))
    plain = open_picture(draw_photo(drawing, "nowhere", LINES))
    changed = ImageChops.difference(ringed, plain).point(lambda value: 255 * (value > 60)).getbbox()
    box = find_part(drawing, "door-opening")
    assert all(abs(a - b) <= 8 for a, b in zip(changed, box, strict=True))
    assert find_part(drawing, "nowhere") is None


def test_every_picture_says_that_it_is_drawn(monkeypatch):
    drawing = DRAWINGS["liner.svg"]
    said = open_picture(draw_photo(drawing, "grate", LINES))
    monkeypatch.setattr(drawn_photo, "SAYS_DRAWN", "")
    silent = open_picture(draw_photo(drawing, "grate", LINES))
    left, upper, right, _lower = ImageChops.difference(said, silent).convert("L").getbbox()
    assert upper > DRAWN_HEIGHT and left < 30 and right > 200, "in the label, where it is read"
