"""Records made on the server itself (lessons): events like a phone's, in the same log."""

import secrets
from collections.abc import Mapping
from datetime import datetime

from qcapp.inspection.event import event_hash
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.moment import as_text
from qcapp.sync.admit import Facts, build_entry, freeze_arrived

SERVER_DEVICE = "server"


def record_here(store: Store, *, kind: str, recorder: str, body: Mapping, now: datetime) -> str:
    """Seals and appends an event of the server's own; gives its id. recorder: who made it."""
    with store.writing() as connection:
        event = {
            "id": _make_uuid7(now),
            "kind": kind,
            "device_id": SERVER_DEVICE,
            "dev_seq": log.count_device_events(connection, SERVER_DEVICE) + 1,
            "inspector": recorder,
            "batch": None,
            "stage": None,
            "stove": None,
            "checklist": None,
            "checklist_hash": None,
            "captured_at": as_text(now),
            "tz_min": 0,
            "app_build": "server",
            "body": dict(body),
            "photos": [],
            "corrects": None,
        }
        sealed = {**event, "hash": event_hash(event)}
        entry = build_entry(freeze_arrived(sealed), Facts(frozenset(), {}, {}))
        log.append(connection, [entry], received_at=as_text(now), relayed_by=None, clock_offset_ms=0)
    return event["id"]


def _make_uuid7(now: datetime) -> str:
    """RFC 9562, section 5.7: 48 bits of milliseconds, then random bits."""
    number = (int(now.timestamp() * 1000) << 80) | secrets.randbits(80)
    number = (number & ~(0xF << 76)) | (0x7 << 76)
    digits = f"{(number & ~(0x3 << 62)) | (0x2 << 62):032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))
