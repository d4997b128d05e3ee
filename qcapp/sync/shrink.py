"""A photo as a browser's form brings it, made into what a phone of the yard would send."""

import hashlib
from io import BytesIO

from PIL import Image, ImageOps

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

LONGEST_SIDE = 1280
# A camera's picture; a form that brings more is refused before it is decoded.
MAX_PIXELS = 60_000_000
QUALITY = 80


def shrink_photo(content: bytes) -> tuple[str, bytes]:
    """(SHA-256, JPEG) of a JPEG, PNG or WebP picture: upright, at most 1280 px, nothing of the
    camera's data in it. Raises BadInput for anything else.
    """
    try:
        with Image.open(BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as picture:
            if picture.width * picture.height > MAX_PIXELS:
                raise _refuse()
            picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except BadInput:
        raise
    except Exception as error:  # a decoder of foreign bytes has many ways to fail
        raise _refuse() from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    stream = BytesIO()
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    clean.save(stream, "JPEG", quality=QUALITY)
    return hashlib.sha256(stream.getvalue()).hexdigest(), stream.getvalue()


def _refuse() -> BadInput:
    return BadInput(
        phrase("this is no photo that can be read"),
        "photos",
        phrase("choose a JPEG, PNG or WebP picture"),
    )
