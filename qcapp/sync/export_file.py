"""Unsent work that comes as a file instead of over the network: its form, and how much it may hold.

The file is JSON {"format": "records/1", "device_id", "made_at", "events": [sealed events],
"signatures": [of the events, in their order; null where there is none], "definitions": [compiled
checklists], "drawings": [{"checklist", "name", "svg"}], "photos": [{"sha256", "type", "base64"}]}.
"""

import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, BinaryIO, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from qcapp.checklist.drawing import MAX_DRAWING_BYTES
from qcapp.errors import BadInput, TooLarge
from qcapp.i18n.phrase import phrase
from qcapp.store.registry import photos
from qcapp.sync.json_elements import ObjectReader, cut_off, foreign
from qcapp.sync.protocol import MAX_BYTES, MAX_EVENT_BYTES, MAX_FILE_BYTES

FORMAT = "records/1"
# Of one element. An event that is too long for us is told so by itself, up to here.
LIMITS = {
    "events": 4 * MAX_EVENT_BYTES,
    "signatures": 200,
    "definitions": MAX_BYTES,
    "drawings": 2 * MAX_DRAWING_BYTES,
    "photos": 4 * photos.MAX_BYTES // 3 + 1000,
}
# A stove a minute, ten hours a day, for more than a month, with two photos a stove on an eighth.
MAX_ELEMENTS = {
    "events": 20_000,
    "signatures": 20_000,
    "definitions": 200,
    "drawings": 20_000,
    "photos": 5_000,
}
MAX_PHOTO_PARTS = 10


class FileHead(BaseModel):
    """What a file says of itself; of its lists only whether they are there."""

    model_config = ConfigDict(extra="ignore")
    format: Literal["records/1"]
    device_id: str = Field(max_length=200)
    made_at: str = Field(max_length=64)
    events: list[Any]
    signatures: list[Any] = Field(default_factory=list)
    definitions: list[Any] = Field(default_factory=list)
    drawings: list[Any] = Field(default_factory=list)
    photos: list[Any] = Field(default_factory=list)


@dataclass(frozen=True)
class ExportFile:
    """The file, on disk: its lists are read anew whenever they are wanted, and never held whole.

    Their elements stay plain JSON: one that cannot be read must not refuse the others.
    """

    device_id: str
    made_at: str
    counts: Mapping[str, int]
    stream: BinaryIO

    def walk(self, wanted: str) -> Iterator[tuple[Any, int]]:
        """(each element of a list, its length in bytes)."""
        for name, is_element, text in ObjectReader(self.stream, LIMITS).walk():
            if is_element and name == wanted:
                yield json.loads(text), len(text)

    def chunk(self, wanted: str, most: int) -> Iterator[list[Any]]:
        """Parts as large as one call of a phone may be."""
        part: list[Any] = []
        size = 0
        for element, length in self.walk(wanted):
            if part and (len(part) == most or size + length > MAX_BYTES):
                yield part
                part, size = [], 0
            part.append(element)
            size += length
        if part:
            yield part


def parse_export_file(content: bytes | BinaryIO) -> ExportFile:
    """Looks through the whole file before anything of it is taken in.

    Raises TooLarge or BadInput when the file as a whole is none of ours; then it is left.
    """
    stream = io.BytesIO(content) if isinstance(content, bytes) else content
    if stream.seek(0, io.SEEK_END) > MAX_FILE_BYTES:
        raise TooLarge(
            phrase(
                "the file has more than %(max_file_bytes)s bytes", max_file_bytes=MAX_FILE_BYTES
            ),
            "file",
            phrase("export fewer photos; the records are small"),
        )
    said: dict[str, Any] = {}
    counts = dict.fromkeys(LIMITS, 0)
    for name, is_element, text in ObjectReader(stream, LIMITS).walk():
        if is_element and name == "photos":
            _refuse_odd_photo(text)
        value = _load(text)
        if is_element:
            counts[name] += 1
            said[name] = []
            _refuse_many(name, counts[name])
        else:
            said[name] = value
    head = _read_head(said)
    return ExportFile(head.device_id, head.made_at, counts, stream)


def _refuse_odd_photo(text: bytes) -> None:
    """A photo has three texts: looked at before it is read, so that none is a million lists."""
    if text.count(b",") > MAX_PHOTO_PARTS or b"[" in text:
        raise foreign("photos")


def _load(text: bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise cut_off() from error


def _refuse_many(name: str, count: int) -> None:
    if count > MAX_ELEMENTS[name]:
        raise TooLarge(
            phrase("the file has more than %(most)s %(name)s", most=MAX_ELEMENTS[name], name=name),
            "file",
            phrase("send what the phone holds over the network"),
        )


def _read_head(said: Mapping[str, Any]) -> FileHead:
    kind = said.get("format")
    if isinstance(kind, str) and kind.startswith("records/") and kind != FORMAT:
        raise BadInput(
            phrase("the file is from another version (%(kind)s)", kind=kind[:20]),
            "format",
            phrase("update qcapp on this machine; nothing was imported"),
        )
    try:
        return FileHead.model_validate(said)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or "file"
        raise foreign(place, first["msg"]) from error
