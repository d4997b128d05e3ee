"""Whether bytes are a photo that may be kept and shown: a plain JPEG that tells nothing but its
picture.

The segments are walked here, because only a list of what may be there keeps out what nobody thought
of (ITU-T T.81, annex B); Pillow then decodes it, because no walk can tell whether the picture is
whole. Only JPEG: it is all the phone sends.
"""

import functools
from io import BytesIO

from PIL import Image

from qcapp.i18n.messages import Message
from qcapp.sync.foreign_picture import decode_alone
from qcapp.sync.jpeg import SCAN, BrokenJpegError, walk_segments
from qcapp.sync.photo_refusals import (
    CAMERA_DATA,
    DAMAGED,
    EXTRA_DATA,
    NOT_JPEG,
    NOT_ONE_PICTURE,
    TOO_MANY_PIXELS,
)

# The phone makes the longest side at most 1280.
LONGEST_PX = 4096
# Of one that comes in several scans: the decoder holds all of it, at six bytes a pixel.
LONGEST_IN_PASSES_PX = 2048
MAX_PIXELS = 12_000_000
# A picture of thousands of thin scans would hold the decoder for minutes; encoders make about ten.
MAX_SCANS = 20
MAX_PROFILE_BYTES = 16_384
MAX_EXIF_BYTES = 200
FRAMES = (0xC0, 0xC1, 0xC2)
TABLES = (0xC4, 0xDB, 0xDD)
# Some browsers write an EXIF block into every JPEG they make, with nothing but the picture's own
# form:
# orientation, resolution, chroma position, version, components, colour space, size, capture type.
FORM_TAGS = {
    0x0112,
    0x011A,
    0x011B,
    0x0128,
    0x0213,
    0x8769,
    0x9000,
    0x9101,
    0xA000,
    0xA001,
    0xA002,
    0xA003,
    0xA406,
}
# ... and an empty caption block: no captions, and the MD5 of nothing. Both from memory of such
# files.
EMPTY_CAPTION = (
    b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x008BIM\x04\x25\0\0\0\0\0\x10"
    + bytes.fromhex("d41d8cd98f00b204e9800998ecf8427e")
)


def find_image_error(content: bytes) -> Message | None:
    """Why these bytes must not be kept as a photo; None when they may."""
    if not content.startswith(b"\xff\xd8\xff"):
        return NOT_JPEG()
    frames, scans = [], 0
    try:
        for marker, payload in walk_segments(content):
            error = _find_segment_error(marker, payload)
            if error:
                return error
            scans += marker == SCAN
            if marker in FRAMES:
                frames.append((int.from_bytes(payload[3:5]), int.from_bytes(payload[1:3])))
    except BrokenJpegError as error:
        return error.why
    if len(frames) != 1 or not 0 < scans <= MAX_SCANS:
        return NOT_ONE_PICTURE()
    width, height = frames[0]
    most = LONGEST_PX if scans == 1 else LONGEST_IN_PASSES_PX
    if not (0 < width <= most and 0 < height <= most and width * height <= MAX_PIXELS):
        return TOO_MANY_PIXELS(width=width, height=height, most=most)
    return None if _is_decodable(content) else DAMAGED()


def _find_segment_error(marker: int, payload: bytes) -> Message | None:
    if marker in (*FRAMES, *TABLES, SCAN) or (marker == 0xED and payload == EMPTY_CAPTION):
        return None
    # JFIF without a thumbnail, a colour profile, the colour transform of Adobe.
    is_plain = (
        (marker == 0xE0 and payload.startswith(b"JFIF\0") and len(payload) == 14)
        or (
            marker == 0xE2
            and payload.startswith(b"ICC_PROFILE\0")
            and len(payload) <= MAX_PROFILE_BYTES
        )
        or (marker == 0xEE and payload.startswith(b"Adobe") and len(payload) == 12)
    )
    if is_plain:
        return None
    if marker == 0xE1 and payload.startswith(b"Exif\0\0"):
        return None if _says_only_its_form(payload) else CAMERA_DATA()
    return EXTRA_DATA()


def _says_only_its_form(payload: bytes) -> bool:
    if len(payload) > MAX_EXIF_BYTES:
        return False
    exif = Image.Exif()
    try:
        exif.load(payload)
        return set(exif) | set(exif.get_ifd(0x8769)) <= FORM_TAGS
    except Exception:  # noqa: BLE001  (whatever the parser trips over says more than its form)
        return False


def _is_decodable(content: bytes) -> bool:
    return decode_alone(functools.partial(_decode, content))


def _decode(content: bytes) -> bool:
    try:
        with Image.open(BytesIO(content), formats=("JPEG",)) as picture:
            # All of it is read; an eighth of its width and height is made of it.
            picture.draft(None, (1, 1))
            picture.load()
    except Exception:  # noqa: BLE001  (a decoder of foreign bytes has many ways to fail)
        return False
    return True
