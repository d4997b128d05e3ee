"""Records made on the server itself (lessons): events like a phone's, in the same log."""

import secrets
from collections.abc import Mapping
from datetime import datetime

from qcapp.inspection.event import build_uuid7, event_hash
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.moment import as_text
from qcapp.sync.admit import Facts, build_entry, freeze_arrived

SERVER_DEVICE = "server"


def record_here(store: Store, *, kind: str, recorder: str, body: Mapping, now: datetime) -> str:
    """Seals and appends an event of the server's own; gives its id. recorder: who made it."""
    with store.writing() as connection:
        event = {
            "id": build_uuid7(int(now.timestamp() * 1000), secrets.randbits(80)),
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
