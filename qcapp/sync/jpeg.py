"""The segments of a JPEG (ITU-T T.81, annex B)."""

import re
from collections.abc import Iterator

from qcapp.i18n.messages import Message
from qcapp.sync.photo_refusals import CUT_OFF, HIDDEN_DATA

SCAN, END = 0xDA, 0xD9
AFTER_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


class BrokenJpegError(Exception):
    def __init__(self, why: Message) -> None:
        self.why = why
        super().__init__(why)


def walk_segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """(marker, payload) of each. Raises BrokenJpegError when it does not end where it says."""
    at = 2
    while True:
        if content[at : at + 1] != b"\xff":
            raise BrokenJpegError(CUT_OFF())
        while content[at + 1 : at + 2] == b"\xff":
            at += 1
        marker = content[at + 1] if at + 1 < len(content) else 0
        if marker == END:
            if at + 2 != len(content):
                raise BrokenJpegError(HIDDEN_DATA())
            return
        length = int.from_bytes(content[at + 2 : at + 4])
        payload = content[at + 4 : at + 2 + length]
        if length < 2 or len(payload) != length - 2:
            raise BrokenJpegError(CUT_OFF())
        yield marker, payload
        at += 2 + length
        if marker == SCAN:
            found = AFTER_SCAN.search(content, at)
            if not found:
                raise BrokenJpegError(CUT_OFF())
            at = found.start()


def count_scans(content: bytes) -> int:
    """As far as the segments can be followed: a camera may put more behind the picture."""
    scans = 0
    try:
        for marker, _payload in walk_segments(content):
            scans += marker == SCAN
    except BrokenJpegError:
        return scans
    return scans
