"""Takes in an export file: the same events as over the network, with the same outcomes.

Taking in a file twice, or one whose records also came another way, changes nothing.
"""

import base64
import binascii
import hashlib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.errors import BadInput, TooMany
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.sync.export_file import ExportFile
from qcapp.sync.photos import receive_whole
from qcapp.sync.protocol import (
    MAX_DEFINITIONS,
    MAX_DRAWINGS,
    MAX_EVENTS,
    PROTOCOL,
    EventResult,
    PushRequest,
)
from qcapp.sync.push import IMPORTED, receive_push


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
