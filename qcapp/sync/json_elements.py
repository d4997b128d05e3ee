"""Reads one large JSON object from a stream, an element of its lists at a time.

Reading it whole would cost forty times its size: 64 MB of empty lists are 2.8 GB of objects.
"""

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any, BinaryIO

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

PIECE = 65_536
MAX_SMALL_BYTES = 1000
MAX_DEPTH = 900
# A file of ours has nine.
MAX_MEMBERS = 1000
SPACE = b" \t\n\r"
NO_SPACE = re.compile(rb"[^ \t\n\r]")
OPENING = (b"[", b"{")
# What begins a text, opens, closes or parts.
SIGN = re.compile(rb'["\[\]{},]')


class ObjectReader:
    """Walks over the members of the object in a stream.

    limits: {name of a list: most bytes of one element}. Other members have at most MAX_SMALL_BYTES.
    """

    def __init__(self, stream: BinaryIO, limits: Mapping[str, int]) -> None:
        self._stream, self._limits = stream, limits
        self._kept, self._place = b"", 0

    def walk(self) -> Iterator[tuple[str, bool, bytes]]:
        """(name, whether it is an element of that list, its JSON); an empty list as it stands.

        Raises BadInput where this is not one JSON object, or an element is larger than allowed.
        """
        self._stream.seek(0)
        self._kept, self._place = b"", 0
        if self._peek() != b"{":
            raise foreign("file") if self._peek() in (b"[", b'"') else cut_off()
        self._place += 1
        members = 0
        while self._peek() != b"}":
            members += 1
            if members > MAX_MEMBERS:
                raise foreign("file")
            name = str(_load(self._take(MAX_SMALL_BYTES)))
            self._expect(b":")
            if name in self._limits and self._peek() == b"[":
                self._place += 1
                if self._peek() == b"]":
                    yield name, False, b"[]"
                for part in self._walk_list(self._limits[name]):
                    yield name, True, part
            else:
                yield name, False, self._take(MAX_SMALL_BYTES)
            if self._peek() != b"}":
                self._expect(b",")
        self._place += 1
        if self._peek():
            raise cut_off()

    def _walk_list(self, most: int) -> Iterator[bytes]:
        while self._peek() != b"]":
            yield self._take(most)
            if self._peek() != b"]":
                self._expect(b",")
        self._place += 1

    def _expect(self, sign: bytes) -> None:
        if self._peek() != sign:
            raise cut_off()
        self._place += 1

    def _peek(self) -> bytes:
        """The next sign that is no space; nothing at the end."""
        while True:
            if found := NO_SPACE.search(self._kept, self._place):
                self._place = found.start()
                return found.group()
            self._place = len(self._kept)
            if not self._more():
                return b""

    def _more(self) -> bool:
        # Twice as much each time: a long value is looked through from its beginning again.
        piece = self._stream.read(max(PIECE, len(self._kept) - self._place))
        self._kept, self._place = self._kept[self._place :] + piece, 0
        return bool(piece)

    def _take(self, most: int) -> bytes:
        """The value that begins here, which has at most so many bytes."""
        self._peek()
        while True:
            length = _find_length(self._kept, self._place)
            if length is None and len(self._kept) - self._place <= most and self._more():
                continue
            if length is None or not 0 < length <= most:
                raise cut_off() if length is None or length == 0 else foreign("file")
            start, self._place = self._place, self._place + length
            return self._kept[start : self._place]


def _find_length(kept: bytes, start: int) -> int | None:
    """Bytes of the value at this place; None when its end is not here yet."""
    depth, place = 0, start
    while found := SIGN.search(kept, place):
        sign, place = found.group(), found.end()
        if sign == b'"':
            place = _find_text_end(kept, place)
            if place == 0:
                return None
        elif sign in OPENING:
            depth += 1
        elif depth == 0:
            # A number or a word ends before what follows it.
            return len(kept[start : found.start()].rstrip(SPACE))
        else:
            depth -= sign != b","
        if depth > MAX_DEPTH:
            raise cut_off()
        if depth == 0:
            return place - start
    return None


def _find_text_end(kept: bytes, place: int) -> int:
    """The place after the closing quote; 0 when it is not here yet."""
    while (end := kept.find(b'"', place)) >= 0:
        slashes = end - len(kept[place:end].rstrip(b"\\")) - place
        place = end + 1
        if slashes % 2 == 0:
            return place
    return 0


def _load(text: bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise cut_off() from error


def cut_off() -> BadInput:
    return BadInput(
        phrase("the file is cut off, or the app did not make it"),
        "file",
        phrase("save it on the phone again; nothing was imported"),
    )


def foreign(place: str, problem: str = "") -> BadInput:
    return BadInput(
        phrase("the app did not make this file: %(msg)s", msg=problem or place),
        place,
        phrase("choose the file saved on the phone; nothing was imported"),
    )
