"""A picture from outside, as it is read: upright, in RGB, small."""

import io

import pytest
from PIL import Image

from qcapp.sync.foreign_picture import UnreadablePictureError, read_picture

ORIENTATION, TURNED = 0x0112, 6


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("JPEG", "L"), ("JPEG", "CMYK"), ("PNG", "RGBA"), ("PNG", "P"), ("WEBP", "RGB")],
)
def test_picture_stands_upright_whatever_its_file_says(kind, mode):
    exif, stream = Image.Exif(), io.BytesIO()
    exif[ORIENTATION] = TURNED
    Image.new(mode, (3000, 1500)).save(stream, kind, exif=exif)
    picture = read_picture(stream, 1280)
    assert (picture.size, picture.mode) == ((640, 1280), "RGB")


@pytest.mark.parametrize(
    "content", [b"", b"GIF89a", b"\xff\xd8\xff\xd9", b"\x89PNG\r\n\x1a\n" + b"x" * 99]
)
def test_what_is_no_picture_is_said_to_be_none(content):
    with pytest.raises(UnreadablePictureError):
        read_picture(io.BytesIO(content), 1280)
