"""Sheets typed in: each stove becomes an inspection of the server's own device.

All of a form are kept, or none.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import build_uuid7, canonical
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.load_facts import load_facts
from qcapp.sync.protocol import MAX_EVENT_BYTES
from qcapp.sync.server_events import append_server_event

# What stands around a body is a few hundred bytes; phones and files take no larger events.
MAX_BODY_BYTES = MAX_EVENT_BYTES - 2000


@dataclass(frozen=True)
class PaperRecord:
    """One stove of a sheet.

    captured_at: UTC text, when the stove was looked at; tz_min: minutes east of UTC.
    """

    stove: str
    inspector: str
    captured_at: str
    tz_min: int
    body: Mapping[str, Any]


def read_form_key(text: str) -> tuple[int, str] | None:
    """(milliseconds, random part) of a form's own name, or None when it is no such name."""
    moment, _, chance = text.partition("-")
    fits = (
        moment.isascii()
        and moment.isdigit()
        and len(moment) == 13
        and len(chance) == 20
        and set(chance) <= set("0123456789abcdef")
    )
    return (int(moment), chance) if fits else None


def find_record_id(
    form_key: tuple[int, str], batch: str, checklist: Checklist, record: PaperRecord
) -> str:
    """The same form with the same answers has the same id: a repeated Save keeps it once."""
    content = {
        **vars(record),
        "body": {key: value for key, value in record.body.items() if key != "entered_at"},
    }
    digest = hashlib.sha256(
        canonical({"form": form_key[1], "batch": batch, "checklist": checklist.hash, **content})
    ).digest()
    return build_uuid7(form_key[0], int.from_bytes(digest[:10]))


def record_sheet(
    store: Store,
    records: Sequence[PaperRecord],
    *,
    form_key: tuple[int, str],
    batch: str,
    checklist: Checklist,
    now: datetime,
) -> int:
    """Number of records newly kept.

    Raises BadInput, keeping none, when one of them must not count.
    """
    with store.writing() as connection:
        facts = load_facts(connection, [checklist.hash], [batch])
        ids = [find_record_id(form_key, batch, checklist, record) for record in records]
        known = {row.id for row in log.list_known(connection, ids)}
        fresh = [
            (event_id, record)
            for event_id, record in zip(ids, records, strict=True)
            if event_id not in known
        ]
        for event_id, record in fresh:
            if len(canonical(record.body)) > MAX_BODY_BYTES:
                raise BadInput(
                    phrase("the text is too long for one record"),
                    record.stove,
                    phrase("shorten the notes"),
                )
            append_server_event(
                connection,
                kind="inspection",
                recorder=record.inspector,
                body=record.body,
                now=now,
                facts=facts,
                id=event_id,
                batch=batch,
                stage=checklist.stage,
                stove=record.stove,
                checklist=checklist.key,
                checklist_hash=checklist.hash,
                captured_at=record.captured_at,
                tz_min=record.tz_min,
            )
    return len(fresh)
