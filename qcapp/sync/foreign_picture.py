"""Pictures that come from outside are decoded one at a time, and never larger than needed: a file
of 100 kB may say that it is 60 million pixels.
"""

import functools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import BinaryIO, TypeVar

from PIL import Image, ImageOps, PngImagePlugin

from qcapp.errors import TooMany
from qcapp.i18n.phrase import phrase
from qcapp.sync.jpeg import count_scans

# A camera's JPEG, which can be decoded at a fraction of its size.
MAX_PIXELS = 60_000_000
# Any other picture has to be held whole, at four bytes a pixel and more; a JPEG of several scans
# too.
MAX_WHOLE_PIXELS = 8_000_000
WAIT_S = 20
DECODER = ThreadPoolExecutor(1, thread_name_prefix="decoder")
Decoded = TypeVar("Decoded")

# Packed texts in a PNG, of all together; Pillow's own limit is 64 MB.
PngImagePlugin.MAX_TEXT_MEMORY = PngImagePlugin.MAX_TEXT_CHUNK


class UnreadablePictureError(Exception):
    """No JPEG, PNG or WebP picture, or one that is too large."""


def decode_alone(decode: Callable[[], Decoded]) -> Decoded:
    """What `decode` gives, in the one thread for it: each thread would keep what it once needed.

    Raises what it raises; TooMany where others were before for too long.
    """
    turn = DECODER.submit(decode)
    try:
        return turn.result(WAIT_S)
    except TimeoutError as error:
        turn.cancel()
        raise TooMany(
            phrase("many pictures are being looked at"),
            "photo",
            phrase("wait half a minute, then try again"),
            wait_s=30,
        ) from error


def read_picture(stream: BinaryIO, longest: int) -> Image.Image:
    """A JPEG, PNG or WebP, upright, in RGB, with at most so many pixels a side.

    Raises UnreadablePictureError; TooMany as decode_alone.
    """
    return decode_alone(functools.partial(_read, stream, longest))


def _read(stream: BinaryIO, longest: int) -> Image.Image:
    try:
        with Image.open(stream, formats=("JPEG", "PNG", "WEBP")) as picture:
            _refuse_large(picture, stream)
            picture.draft("RGB", (longest, longest))
            plain = picture if picture.mode == "RGB" else picture.convert("RGB")
            plain.thumbnail((longest, longest))
            return ImageOps.exif_transpose(plain)
    except Exception as error:  # a decoder of foreign bytes has many ways to fail
        raise UnreadablePictureError from error


def _refuse_large(picture: Image.Image, stream: BinaryIO) -> None:
    pixels = picture.width * picture.height
    if pixels <= MAX_WHOLE_PIXELS:
        return
    if pixels > MAX_PIXELS or picture.format != "JPEG":
        raise UnreadablePictureError
    stream.seek(0)
    scans = count_scans(stream.read())
    stream.seek(0)
    if scans != 1:
        raise UnreadablePictureError
