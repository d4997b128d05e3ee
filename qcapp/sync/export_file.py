"""Unsent work that comes as a file instead of over the network: same events, same outcomes.

The file is JSON {"format": "records/1", "device_id", "made_at", "events": [sealed events],
"definitions": [compiled checklists], "photos": [{"sha256", "type", "base64"}]}. Taking in a file
twice, or one whose records also came another way, changes nothing.
"""

import base64
import binascii
import hashlib
import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from qcapp.errors import BadInput, TooLarge
from qcapp.i18n.phrase import phrase
from qcapp.store.chunks import chunked
from qcapp.store.engine import Store
from qcapp.sync.photos import receive_whole
from qcapp.sync.protocol import MAX_DEFINITIONS, MAX_EVENTS, PROTOCOL, EventResult, PushRequest
from qcapp.sync.push import receive_push

FORMAT = "records/1"
MAX_FILE_BYTES = 64_000_000
# Who handed over what came by the page or the command.
IMPORTED = "import"


class ExportFile(BaseModel):
    """The file. Its parts stay plain JSON: one that cannot be read must not refuse the others."""

    model_config = ConfigDict(extra="ignore")
    format: Literal["records/1"]
    device_id: str = Field(max_length=200)
    made_at: str = Field(max_length=64)
    events: list[Any]
    definitions: list[Any] = Field(default_factory=list)
    photos: list[Any] = Field(default_factory=list)


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


def parse_export_file(content: bytes) -> ExportFile:
    """Raises TooLarge or BadInput when the file as a whole is none of ours; then it is left."""
    if len(content) > MAX_FILE_BYTES:
        raise TooLarge(
            phrase(
                "the file has more than %(max_file_bytes)s bytes", max_file_bytes=MAX_FILE_BYTES
            ),
            "file",
            phrase("export fewer photos; the records are small"),
        )
    try:
        data = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise BadInput(
            phrase("the file is cut off, or the app did not make it"),
            "file",
            phrase("save it on the phone again; nothing was imported"),
        ) from error
    kind = data.get("format") if isinstance(data, dict) else None
    if isinstance(kind, str) and kind.startswith("records/") and kind != FORMAT:
        raise BadInput(
            phrase("the file is from another version (%(kind)s)", kind=kind[:20]),
            "format",
            phrase("update qcapp on this machine; nothing was imported"),
        )
    try:
        return ExportFile.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or "file"
        raise BadInput(
            phrase("the app did not make this file: %(msg)s", msg=first["msg"]),
            place,
            phrase("choose the file saved on the phone; nothing was imported"),
        ) from error


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
    for part in chunked(export_file.definitions, MAX_DEFINITIONS):
        receive_push(store, _build_push(definitions=part), relayed_by=relayed_by, now=now)
    results: list[EventResult] = []
    for part in chunked(export_file.events, MAX_EVENTS):
        results += receive_push(
            store, _build_push(events=part), relayed_by=relayed_by, now=now
        ).results
        tell("records", len(results), len(export_file.events))
    fresh, refused = [], []
    for place, photo in enumerate(export_file.photos, 1):
        try:
            fresh.append(_take_photo(store, photo))
        except BadInput as error:
            refused.append((error.where, error.what))
        tell("photos", place, len(export_file.photos))
    return ImportResult(
        device_id=export_file.device_id,
        made_at=export_file.made_at,
        events=len(export_file.events),
        counts=dict(Counter(result.outcome for result in results)),
        quarantined=tuple(result for result in results if result.reason),
        photos_new=sum(fresh),
        photos_known=len(fresh) - sum(fresh),
        refused=tuple(refused),
    )


def _build_push(*, events: Sequence[Any] = (), definitions: Sequence[Any] = ()) -> PushRequest:
    # No note about the phone: a file says what it had, not what it has.
    return PushRequest(
        protocol=PROTOCOL,
        request_id="export_file",
        events=list(events),
        definitions=list(definitions),
    )


def _take_photo(store: Store, photo: Any) -> bool:
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
    return receive_whole(store, name, content)
