"""Whether bytes are a photo that may be kept and shown: a plain JPEG that tells nothing but its
picture.

The segments are walked here, because only a list of what may be there keeps out what nobody thought
of (ITU-T T.81, annex B); Pillow then decodes it, because no walk can tell whether the picture is
whole. Only JPEG: it is all the phone sends.
"""

import re
from collections.abc import Iterator
from io import BytesIO

from PIL import Image

from qcapp.i18n.messages import Message
from qcapp.sync.photo_refusals import (
    CAMERA_DATA,
    CUT_OFF,
    DAMAGED,
    EXTRA_DATA,
    HIDDEN_DATA,
    NOT_JPEG,
    NOT_ONE_PICTURE,
    TOO_MANY_PIXELS,
)

# The phone makes the longest side at most 1280.
LONGEST_PX = 4096
MAX_PIXELS = 12_000_000
# A picture of thousands of thin scans would hold the decoder for minutes; encoders make about ten.
MAX_SCANS = 20
MAX_PROFILE_BYTES = 16_384
MAX_EXIF_BYTES = 200
FRAMES = (0xC0, 0xC1, 0xC2)
TABLES = (0xC4, 0xDB, 0xDD)
SCAN, END = 0xDA, 0xD9
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
AFTER_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class _BrokenImage(Exception):
    def __init__(self, why: Message) -> None:
        self.why = why
        super().__init__(why)


def find_image_error(content: bytes) -> Message | None:
    """Why these bytes must not be kept as a photo; None when they may."""
    if not content.startswith(b"\xff\xd8\xff"):
        return NOT_JPEG()
    frames, scans = [], 0
    try:
        for marker, payload in _walk(content):
            error = _find_segment_error(marker, payload)
            if error:
                return error
            scans += marker == SCAN
            if marker in FRAMES:
                frames.append((int.from_bytes(payload[3:5]), int.from_bytes(payload[1:3])))
    except _BrokenImage as error:
        return error.why
    if len(frames) != 1 or not 0 < scans <= MAX_SCANS:
        return NOT_ONE_PICTURE()
    width, height = frames[0]
    if not (0 < width <= LONGEST_PX and 0 < height <= LONGEST_PX and width * height <= MAX_PIXELS):
        return TOO_MANY_PIXELS(width=width, height=height, most=LONGEST_PX)
    return None if _is_decodable(content) else DAMAGED()


def _walk(content: bytes) -> Iterator[tuple[int, bytes]]:
    """(marker, payload) of each segment. Raises _BrokenImage when it does not end where it says."""
    at = 2
    while True:
        if content[at : at + 1] != b"\xff":
            raise _BrokenImage(CUT_OFF())
        while content[at + 1 : at + 2] == b"\xff":
            at += 1
        marker = content[at + 1] if at + 1 < len(content) else 0
        if marker == END:
            if at + 2 != len(content):
                raise _BrokenImage(HIDDEN_DATA())
            return
        length = int.from_bytes(content[at + 2 : at + 4])
        payload = content[at + 4 : at + 2 + length]
        if length < 2 or len(payload) != length - 2:
            raise _BrokenImage(CUT_OFF())
        yield marker, payload
        at += 2 + length
        if marker == SCAN:
            found = AFTER_SCAN.search(content, at)
            if not found:
                raise _BrokenImage(CUT_OFF())
            at = found.start()


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
    try:
        with Image.open(BytesIO(content), formats=("JPEG",)) as picture:
            picture.load()
    except Exception:  # noqa: BLE001  (a decoder of foreign bytes has many ways to fail)
        return False
    return True
