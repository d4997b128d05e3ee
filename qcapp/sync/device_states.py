"""What the yard lead should know of each phone: contact, what is still to come, what it lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from qcapp.inspection.event import SERVER_DEVICE
from qcapp.inspection.loss import Loss, find_loss
from qcapp.store import log
from qcapp.store.registry import devices

NOT_A_PHONE = (SERVER_DEVICE, "unknown")


@dataclass(frozen=True)
class DeviceState:
    """stored: records here; made, unsent: by the phone's last word (made is at least what is here).

    went_back: (number the phone had reached, number it named later) when its counter is lower
    than before; is_ended: it reported that it lost its memory, so nothing under this id will come.
    joined_at is None for a phone whose records came, but which never joined here. buyer_batch: what
    a phone of the buyer's inspector checks again.
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


def list_devices_seen(connection: Connection) -> list[DeviceState]:
    """Joined phones in the order they joined, then others whose records are here."""
    counts = {row.device_id: row for row in log.list_device_counts(connection)}
    ended = _list_ended(connection)
    joined = devices.list_devices(connection)
    known = {row.id for row in joined}
    strangers = sorted(set(counts) - known - set(NOT_A_PHONE))
    return [
        *(_build(connection, row, counts.get(row.id), ended.get(row.id)) for row in joined),
        *(_build_stranger(connection, name, counts[name], ended.get(name)) for name in strangers),
    ]


def _build(connection: Connection, row: Any, count: Any, ended_at: int | None) -> DeviceState:
    last = count.last if count else 0
    made = max(row.created, last, ended_at or 0)
    unsent = 0 if ended_at is not None else min(row.unsent, made)
    went_back = (
        (last, row.created)
        if ended_at is None and row.last_seen_at and row.created < last
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
        _find_loss(connection, row.id, count, made, unsent),
        went_back,
        ended_at is not None,
        row.buyer_batch,
    )


def _build_stranger(
    connection: Connection, device_id: str, count: Any, ended_at: int | None
) -> DeviceState:
    """Nobody knows what it still has, so only its own report of a loss can call a number lost."""
    loss = (
        _find_loss(connection, device_id, count, max(count.last, ended_at), 0)
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
        count.records,
        made,
        0,
        loss,
        None,
        ended_at is not None,
    )


def _find_loss(
    connection: Connection, device_id: str, count: Any, made: int, unsent: int
) -> Loss | None:
    if made - (count.numbers if count else 0) <= unsent:
        return None
    return find_loss(log.list_device_numbers(connection, device_id), made=made, unsent=unsent)


def _list_ended(connection: Connection) -> Mapping[str, int]:
    """{device id: records it had made} of phones that reported the loss of their memory."""
    ended: dict[str, int] = {}
    for event in log.list_by_kind(connection, "device_report"):
        device_id, made = event["body"].get("device_id"), event["body"].get("created")
        if isinstance(device_id, str) and isinstance(made, int) and 0 <= made < 2**53:
            ended[device_id] = max(made, ended.get(device_id, 0))
    return ended
