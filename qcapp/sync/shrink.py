"""A photo as a browser's form brings it, made into what a phone of the yard would send."""

import hashlib
from io import BytesIO
from typing import BinaryIO

from PIL import Image

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.sync.foreign_picture import UnreadablePictureError, read_picture

LONGEST_SIDE = 1280
QUALITY = 80


def shrink_photo(stream: BinaryIO) -> tuple[str, bytes]:
    """(SHA-256, JPEG) of a JPEG, PNG or WebP picture: upright, at most 1280 px, nothing of the
    camera's data in it. Raises BadInput for anything else; TooMany.
    """
    try:
        upright = read_picture(stream, LONGEST_SIDE)
    except UnreadablePictureError as error:
        raise BadInput(
            phrase("this is no photo that can be read"),
            "photos",
            phrase("choose a JPEG, PNG or WebP picture"),
        ) from error
    written = BytesIO()
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    clean.save(written, "JPEG", quality=QUALITY)
    return hashlib.sha256(written.getvalue()).hexdigest(), written.getvalue()
