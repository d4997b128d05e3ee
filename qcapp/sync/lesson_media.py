"""Pictures and voice notes as a browser's form brings them, made into what is kept: told by their
bytes, never by a name or what the form says of them.
"""

from io import BytesIO

from PIL import Image

from qcapp.checklist.svg import read_svg_ids
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.lesson_parts import MAX_PICTURE_BYTES, MAX_VOICE_BYTES
from qcapp.store.registry.lesson_media import Media
from qcapp.sync.foreign_picture import UnreadablePictureError, read_picture

# Of the longer side; the next one and quality is tried while the picture is too large.
SIDES_AND_QUALITIES = ((640, 75), (640, 55), (480, 55), (480, 35), (320, 30))
LONGEST = 1280
# A video in the same wrapper is refused: its codecs begin so (Matroska codec specifications).
VIDEO_CODECS = (b"V_VP", b"V_AV1", b"V_MPEG", b"V_MS", b"V_THEORA")
HEAD_BYTES = 4096


def make_picture(content: bytes) -> Media:
    """An SVG that is let in, as it is; else a JPEG, PNG or WebP made into a small WebP with nothing
    of the camera's data in it. At most 24 KiB either way. Raises BadInput.
    """
    if content.lstrip()[:1] == b"<":
        return _check_svg(content)
    picture = _decode(content)
    for side, quality in SIDES_AND_QUALITIES:
        smaller = picture.copy()
        smaller.thumbnail((side, side))
        stream = BytesIO()
        clean = Image.new("RGB", smaller.size)
        clean.paste(smaller)
        clean.save(stream, "WEBP", quality=quality)
        if len(stream.getvalue()) <= MAX_PICTURE_BYTES:
            return Media("image/webp", stream.getvalue())
    raise _refuse_picture()


def _check_svg(content: bytes) -> Media:
    if len(content) > MAX_PICTURE_BYTES:
        raise BadInput(
            phrase("the drawing is larger than %(most)s bytes", most=MAX_PICTURE_BYTES),
            "picture",
            phrase("draw it with fewer strokes"),
        )
    try:
        source = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _refuse_picture() from error
    read_svg_ids(source, phrase("the picture"))
    return Media("image/svg+xml", content)


def _decode(content: bytes) -> Image.Image:
    try:
        return read_picture(BytesIO(content), LONGEST)
    except UnreadablePictureError as error:
        raise _refuse_picture() from error


def _refuse_picture() -> BadInput:
    return BadInput(
        phrase("this is no picture that can be used"),
        "picture",
        phrase("choose a JPEG, PNG, WebP or SVG picture"),
    )


def check_voice(content: bytes) -> Media:
    """Opus in WebM or Ogg of at most 200 kB, as browsers record it. Raises BadInput."""
    if len(content) > MAX_VOICE_BYTES:
        raise BadInput(
            phrase("the voice note is larger than %(most)s bytes", most=MAX_VOICE_BYTES),
            "voice",
            phrase("say it in less than a minute"),
        )
    head = content[:HEAD_BYTES]
    is_ogg = head.startswith(b"OggS") and b"OpusHead" in head[:100]
    # EBML's first four bytes (RFC 8794), then the document type and the codec of the one track.
    is_webm = head.startswith(b"\x1a\x45\xdf\xa3") and b"webm" in head[:64] and b"A_OPUS" in head
    if is_ogg or (is_webm and not any(codec in head for codec in VIDEO_CODECS)):
        return Media("audio/ogg" if is_ogg else "audio/webm", content)
    raise BadInput(
        phrase("this is no voice note that can be used"),
        "voice",
        phrase("record it here, or choose Opus in a WebM or Ogg file"),
    )
