"""Unsent work that comes as a file instead of over the network: same events, same outcomes.

The file is JSON {"format": "records/1", "device_id", "made_at", "events": [sealed events],
"signatures": [of the events, in their order; null where there is none], "definitions": [compiled
checklists], "drawings": [{"checklist", "name", "svg"}], "photos": [{"sha256", "type", "base64"}]}.
Taking in a file twice, or one whose records also came another way, changes nothing.
"""

import base64
import binascii
import hashlib
import io
import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from qcapp.checklist.drawing import MAX_DRAWING_BYTES
from qcapp.errors import BadInput, TooLarge, TooMany
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import photos
from qcapp.sync.json_elements import ObjectReader, cut_off, foreign
from qcapp.sync.photos import receive_whole
from qcapp.sync.protocol import (
    MAX_BYTES,
    MAX_DEFINITIONS,
    MAX_DRAWINGS,
    MAX_EVENT_BYTES,
    MAX_EVENTS,
    MAX_FILE_BYTES,
    PROTOCOL,
    EventResult,
    PushRequest,
)
from qcapp.sync.push import IMPORTED, receive_push

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


@dataclass(frozen=True)
class ImportResult:
    """counts: events by outcome; quarantined: those that do not count; refused: (photo, why)."""

    device_id: str
    made_at: str
    events: int
    counts: dict[str, int]
    quarantined: tuple[EventResult, ...]
    photos_new: int
    photos_known: int
    refused: tuple[tuple[str, str], ...]


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


def import_export_file(
    store: Store,
    export_file: ExportFile,
    *,
    relayed_by: str,
    now: datetime,
    tell: Callable[[str, int, int], None] = lambda _what, _done, _total: None,
) -> ImportResult:
    """Stores what is new, in the parts a phone would have sent; may be repeated at any time.

    tell: called after each part with what was taken in, how many are done, how many there are.
    """
    for part in export_file.chunk("definitions", MAX_DEFINITIONS):
        receive_push(store, _build_push(definitions=part), relayed_by=relayed_by, now=now)
    for part in export_file.chunk("drawings", MAX_DRAWINGS):
        receive_push(store, _build_push(drawings=part), relayed_by=relayed_by, now=now)
    results: list[EventResult] = []
    # At most 20,000 short texts; they may stand before or behind the events.
    signatures = [signature for signature, _length in export_file.walk("signatures")]
    for part in export_file.chunk("events", MAX_EVENTS):
        signed = signatures[len(results) : len(results) + len(part)]
        results += receive_push(
            store, _build_push(events=part, signatures=signed), relayed_by=relayed_by, now=now
        ).results
        tell("records", len(results), export_file.counts["events"])
    fresh, refused = [], []
    for place, (photo, _length) in enumerate(export_file.walk("photos"), 1):
        try:
            fresh.append(_take_photo(store, photo, relayed_by, now))
        except (BadInput, TooMany) as error:
            refused.append((error.where, error.what))
        tell("photos", place, export_file.counts["photos"])
    return ImportResult(
        device_id=export_file.device_id,
        made_at=export_file.made_at,
        events=export_file.counts["events"],
        counts=dict(Counter(result.outcome for result in results)),
        quarantined=tuple(result for result in results if result.reason),
        photos_new=sum(fresh),
        photos_known=len(fresh) - sum(fresh),
        refused=tuple(refused),
    )


def _build_push(
    *,
    events: Sequence[Any] = (),
    signatures: Sequence[Any] = (),
    definitions: Sequence[Any] = (),
    drawings: Sequence[Any] = (),
) -> PushRequest:
    # No note about the phone: a file says what it had, not what it has.
    return PushRequest(
        protocol=PROTOCOL,
        request_id="export_file",
        events=list(events),
        signatures=list(signatures),
        definitions=list(definitions),
        drawings=list(drawings),
    )


def _take_photo(store: Store, photo: Any, relayed_by: str, now: datetime) -> bool:
    """Whether it is new here. Raises BadInput, with the photo's name as its place."""
    name, text = (
        (photo.get("sha256"), photo.get("base64")) if isinstance(photo, dict) else (None, None)
    )
    if not isinstance(name, str) or not isinstance(text, str):
        raise BadInput(
            phrase("photo refused: it has no name or no content"),
            "unnamed photo",
            phrase("save the file again"),
        )
    try:
        content = base64.b64decode(text, validate=True)
    except (ValueError, binascii.Error) as error:
        raise BadInput(
            phrase("photo refused: it is damaged"),
            name[:12],
            phrase("save the file again"),
        ) from error
    if hashlib.sha256(content).hexdigest() != name:
        raise BadInput(
            phrase("photo refused: its content does not match its name"),
            name[:12],
            phrase("save the file again"),
        )
    sender = None if relayed_by == IMPORTED else relayed_by
    return receive_whole(store, name, content, sender=sender, now=now)
