"""What the yard lead should know of each phone: contact, what is still to come, what it lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.inspection.loss import Loss, find_loss
from qcapp.store import log
from qcapp.store.registry import device_keys, devices
from qcapp.sync.authorship import UNPROVEN
from qcapp.sync.quarantine import list_accepted, list_accepted_hashes

NOT_A_PHONE = (SERVER_DEVICE, "unknown")


@dataclass(frozen=True)
class DeviceState:
    """stored: records here; made, unsent: by the phone's last word (made is at least what is here).

    went_back: (number the phone had reached, number it named later) when its counter is lower
    than before; is_ended: it reported that it lost its memory, so nothing under this id will come.
    joined_at is None for a phone whose records came, but which never joined here. buyer_batch: what
    a phone of the buyer's inspector checks again. has_key: it signs its records; key_changed_at,
    copied_number, copied_at: see the table.
    """

    id: str
    name: str
    joined_at: str | None
    revoked_at: str | None
    last_seen_at: str | None
    app_build: str | None
    clock_offset_ms: int | None
    stored: int
    made: int
    unsent: int
    loss: Loss | None
    went_back: tuple[int, int] | None
    is_ended: bool
    buyer_batch: str | None = None
    has_key: bool = False
    key_changed_at: str | None = None
    copied_number: int | None = None
    copied_at: str | None = None


@dataclass(frozen=True)
class _Look:
    connection: Connection
    own: log.OwnRecords


def list_devices_seen(connection: Connection) -> list[DeviceState]:
    """Joined phones in the order they joined, then others whose records are here."""
    own = log.OwnRecords(UNPROVEN, list_accepted_hashes(connection))
    look = _Look(connection, own)
    counts = {row.device_id: row for row in log.list_device_counts(connection, own)}
    ended = _list_ended(connection)
    joined = devices.list_devices(connection)
    known = {row.id for row in joined}
    authors = device_keys.load_authors(connection, known)
    with_key = {device_id for device_id, author in authors.items() if author.keys}
    strangers = sorted(set(counts) - known - set(NOT_A_PHONE))
    return [
        *(
            _build(look, row, counts.get(row.id), ended.get(row.id), has_key=row.id in with_key)
            for row in joined
        ),
        *(_build_stranger(look, name, counts[name], ended.get(name)) for name in strangers),
    ]


def _build(
    look: _Look, row: Any, count: Any, ended_at: int | None, *, has_key: bool
) -> DeviceState:
    last = count.last if count else 0
    made = max(row.created, last, ended_at or 0)
    unsent = 0 if ended_at is not None else min(row.unsent, made)
    # Of two copies each has its own counter.
    went_back = (
        (last, row.created)
        if ended_at is None
        and row.last_seen_at
        and row.created < last
        and row.copied_number is None
        else None
    )
    return DeviceState(
        row.id,
        row.name,
        row.joined_at,
        row.revoked_at,
        row.last_seen_at,
        row.app_build,
        row.clock_offset_ms,
        count.records if count else 0,
        made,
        unsent,
        _find_loss(look, row.id, count, made, unsent),
        went_back,
        ended_at is not None,
        row.buyer_batch,
        has_key,
        row.key_changed_at,
        row.copied_number,
        row.copied_at,
    )


def _build_stranger(look: _Look, device_id: str, count: Any, ended_at: int | None) -> DeviceState:
    """Nobody knows what it still has, so only its own report of a loss can call a number lost."""
    loss = (
        _find_loss(look, device_id, count, max(count.last, ended_at), 0)
        if ended_at is not None
        else None
    )
    made = max(count.last, ended_at or 0)
    return DeviceState(
        device_id,
        device_id[-6:],
        None,
        None,
        None,
        None,
        None,
        count.named,
        made,
        0,
        loss,
        None,
        ended_at is not None,
    )


def _find_loss(look: _Look, device_id: str, count: Any, made: int, unsent: int) -> Loss | None:
    if made - (count.numbers if count else 0) <= unsent:
        return None
    numbers = log.list_device_numbers(look.connection, device_id, look.own)
    return find_loss(numbers, made=made, unsent=unsent)


def _list_ended(connection: Connection) -> Mapping[str, int]:
    """{device id: records it had made} of phones that reported the loss of their memory."""
    ended: dict[str, int] = {}
    reports = log.list_by_kind(connection, "device_report")
    for event in (*reports, *list_accepted(connection, "device_report")):
        device_id, made = event["body"].get("device_id"), event["body"].get("created")
        if isinstance(device_id, str) and isinstance(made, int) and 0 <= made < 2**53:
            ended[device_id] = max(made, ended.get(device_id, 0))
    return ended
