"""Records made on the server itself: like a phone's, in the same log.

They are lessons, summaries, quarantine decisions, sheets typed in, the trail.
"""

import secrets
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from qcapp.errors import BadInput
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import SERVER_DEVICE, EventContent, build_uuid7
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections import stove_projection
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.arrived import freeze_arrived
from qcapp.sync.facts import Facts
from qcapp.sync.quarantine_reasons import REASONS
from qcapp.sync.validation import build_entry

SERVER_FACTS = Facts(frozenset(), {}, {}, is_from_server=True)


def record_server_event(
    store: Store,
    *,
    kind: str,
    recorder: str,
    body: Mapping[str, Any],
    now: datetime,
    batch: str | None = None,
) -> str:
    """Seals and appends an event of the server's own; gives its id. recorder: who made it."""
    with store.writing() as connection:
        return append_server_event(
            connection, kind=kind, recorder=recorder, body=body, now=now, batch=batch
        )


def append_server_event(
    connection: Connection,
    *,
    kind: str,
    recorder: str,
    body: Mapping[str, Any],
    now: datetime,
    batch: str | None = None,
    facts: Facts = SERVER_FACTS,
    **about: Any,
) -> str:
    """As record_server_event, inside a writer transaction of the caller.

    Raises BadInput for a body that does not fit the kind. about: other fields of EventContent,
    where they are not the usual ones; of an event about a stove the figures are made again.
    facts: what an inspection is held against.
    """
    content = EventContent(
        id=build_uuid7(int(now.timestamp() * 1000), secrets.randbits(80)),
        kind=kind,
        device_id=SERVER_DEVICE,
        dev_seq=log.count_device_events(connection, SERVER_DEVICE) + 1,
        inspector=recorder,
        captured_at=format_timestamp(now),
        app_build="server",
        body=body,
        batch=batch,
    )
    content = replace(content, **about)
    entry = build_entry(freeze_arrived(content.seal()), facts)
    if entry.reason is not None:
        reason = REASONS.word(Message.from_text(entry.reason))
        # A record of ours that does not count is a slip of the program or the form: not kept.
        raise BadInput(
            phrase("this %(kind)s cannot be recorded: %(reason)s", kind=kind, reason=reason),
            content.stove or content.batch or kind,
            phrase("correct it and send it again"),
        )
    log.append(
        connection, [entry], received_at=format_timestamp(now), relayed_by=None, clock_offset_ms=0
    )
    stove_projection.refresh_stoves(connection, [entry.stove_key] if entry.stove_key else [])
    return content.id
