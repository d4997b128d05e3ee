"""Quarantined records: what a person has to decide, and what was decided about each so far.

The record stays in the log as it came. A decision (quarantine_decisions.py) is an event of its own;
the latest about a content stands, so that one can be undone by another.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection

from qcapp.errors import NotFound
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import SERVER_DEVICE, Event
from qcapp.inspection.quarantine_decision import find_strangers
from qcapp.store import log
from qcapp.sync.arrived import read_text
from qcapp.sync.authorship import is_unproven
from qcapp.sync.facts import Facts

# The reason of a decision that no person made; worded where it is shown.
SIGNED_LATER = "signed_later"


@dataclass(frozen=True)
class QuarantineDecision:
    """The latest decision about a record; id is that event's own."""

    id: str
    action: str
    reason: str
    by: str
    at: str
    mapping: Mapping[str, Mapping[str, str]]

    @property
    def is_automatic(self) -> bool:
        """No person made it: see quarantine_decisions.accept_proven."""
        return self.by == SERVER_DEVICE and self.reason == SIGNED_LATER


@dataclass(frozen=True)
class QuarantinedRecord:
    """A row of the log that does not count by itself.

    stove, batch, inspector: where they can be read; content: as it came; is_event: well-formed.
    """

    seq: int
    id: str
    hash: str
    state: str
    reason: Message
    kind: str
    stove: str | None
    batch: str | None
    inspector: str | None
    device_id: str
    relayed_by: str | None
    received_at: str
    content: dict[str, Any]
    is_event: bool
    decision: QuarantineDecision | None

    @property
    def is_unproven(self) -> bool:
        """Nothing shows that the phone it names made it."""
        return is_unproven(self.reason)


def list_records(connection: Connection) -> list[QuarantinedRecord]:
    """All of them, newest first."""
    decisions = load_decisions(connection)
    return [_read_row(row, decisions) for row in log.list_quarantined(connection)]


def get_record(connection: Connection, seq: int) -> QuarantinedRecord:
    """The record of a log number. Raises NotFound when it is not held back."""
    row = log.find_record(connection, seq)
    if row is None or row.state == "counted":
        raise NotFound(
            phrase("no record with this number is held back"),
            str(seq),
            phrase("see the list of records held back"),
        )
    return _read_row(row, load_decisions(connection))


@dataclass(frozen=True)
class FirstContent:
    """What counts under a record's id because it came first; relayed_by: who handed it in."""

    content: dict[str, Any]
    relayed_by: str | None


def find_first_content(connection: Connection, record: QuarantinedRecord) -> FirstContent | None:
    """None when the record is no second one."""
    row = log.find_counted(connection, record.id)
    return FirstContent(json.loads(row.raw), row.relayed_by) if row else None


def list_strangers(record: QuarantinedRecord, facts: Facts) -> dict[str, list[str]]:
    """Names in the record that this yard does not know, by kind: what a mapping may mend."""
    return find_strangers(record.content, facts.people, facts.batches) if record.is_event else {}


def list_accepted(connection: Connection, kind: str) -> list[dict[str, Any]]:
    """Contents of a kind that count because it was decided so."""
    latest = load_latest_events(connection)
    return [event for event in latest.values() if event and event["kind"] == kind]


def list_accepted_hashes(connection: Connection) -> list[str]:
    """Of all contents that count because it was decided so."""
    return [key for key, event in load_latest_events(connection).items() if event]


def load_latest_events(connection: Connection) -> dict[str, dict[str, Any] | None]:
    """What counts by the latest decision about each content, by the content's hash."""
    return {
        event["body"]["original_hash"]: event["body"].get("event")
        for event in log.list_by_kind(connection, "quarantine_decision")
    }


def load_decisions(connection: Connection) -> dict[str, QuarantineDecision]:
    """By hash of the content they are about; a hash goes over the id, so it names one record."""
    found = {}
    for event in log.list_by_kind(connection, "quarantine_decision"):
        body = event["body"]
        found[body["original_hash"]] = QuarantineDecision(
            event["id"],
            body["action"],
            body["reason"],
            body.get("by", event["inspector"]),
            event["captured_at"],
            body.get("mapping", {}),
        )
    return found


def _read_row(row: log.LogRecord, decisions: Mapping[str, QuarantineDecision]) -> QuarantinedRecord:
    content = json.loads(row.raw)
    stove, inspector = (read_text(content.get(field)) for field in ("stove", "inspector"))
    return QuarantinedRecord(
        row.seq,
        row.id,
        row.hash,
        row.state,
        Message.from_text(row.reason or ""),
        row.kind,
        stove,
        row.batch,
        inspector,
        row.device_id,
        row.relayed_by,
        row.received_at,
        content,
        _is_event(content),
        decisions.get(row.hash),
    )


def _is_event(content: dict[str, Any]) -> bool:
    try:
        Event.model_validate(content)
    except ValidationError:
        return False
    return True
