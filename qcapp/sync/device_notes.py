"""What a phone says of itself with a push: kept beside its name, for the yard lead."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from qcapp.store.registry import devices
from qcapp.store.timestamps import format_timestamp, parse_timestamp
from qcapp.sync.arrived import read_text
from qcapp.sync.protocol import DeviceNote, EventResult, PushRequest


def note_device(
    connection: Connection,
    relayed_by: str,
    request: PushRequest,
    results: Iterable[EventResult],
    lineage: str,
    now: datetime,
    *,
    is_its_own: bool,
) -> None:
    """Keeps it under the id that the phone makes records with now.

    is_its_own: that id is one of the phone's; what it says of another phone is not kept.
    """
    note = request.device
    made = {event["id"]: event for event in request.events if _is_made_by(event, note.id)}
    contact: dict[str, Any] = {"last_seen_at": format_timestamp(now)}
    if note.clock is not None:
        contact["clock_offset_ms"] = find_clock_offset_ms(note, now)
    builds = [read_text(event.get("app_build"), most=100) for event in made.values()]
    if note.app_build or any(builds):
        contact["app_build"] = note.app_build or next(filter(None, reversed(builds)))
    if note.id != relayed_by:
        devices.note_contact(connection, relayed_by, **contact)
        if not made or not is_its_own:
            return
    settled = len(made.keys() & {result.id for result in results if result.outcome != "retry"})
    # A phone that met another log offers everything again, also what it called acknowledged.
    unsent = note.created if lineage == "diverged" else max(0, note.created - note.acked - settled)
    devices.note_contact(
        connection, note.id, created=note.created, acked=note.acked, unsent=unsent, **contact
    )


def _is_made_by(event: Any, device_id: str) -> bool:
    return (
        isinstance(event, dict)
        and event.get("device_id") == device_id
        and isinstance(event.get("id"), str)
    )


def find_clock_offset_ms(note: DeviceNote, now: datetime) -> int | None:
    try:
        return round((parse_timestamp(note.clock or "") - now).total_seconds() * 1000)
    except (ValueError, OverflowError):
        return None
