"""Quarantined records: what a person has to decide, and the decisions, which are events in the log.

The record stays in the log as it came. A decision is an event of its own; the latest about a
content stands, so that one can be undone by another.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection

from qcapp.errors import BadInput, Clash, NotFound
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import SERVER_DEVICE, Event, stove_key
from qcapp.inspection.quarantine_decision import apply_mapping, find_strangers
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.authorship import is_unproven
from qcapp.sync.load_facts import load_facts
from qcapp.sync.protocol import EventResult
from qcapp.sync.quarantine_reasons import REASONS
from qcapp.sync.server_events import append_server_event
from qcapp.sync.validation import KINDS_WITH_STOVE, Facts, find_reason, read_text

# The reason of a decision that no person made; worded where it is shown.
SIGNED_LATER = "signed_later"
# What can count by a decision: what is about a stove, and what a phone says that it lost.
ACCEPTABLE = (*KINDS_WITH_STOVE, "device_report")


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
        """No person made it: see accept_proven."""
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
    decisions = _load_decisions(connection)
    return [_read_row(row, decisions) for row in log.list_quarantined(connection)]


def get_record(connection: Connection, seq: int) -> QuarantinedRecord:
    """The record of a log number. Raises NotFound when it was not set aside."""
    row = log.find_record(connection, seq)
    if row is None or row.state == "counted":
        raise NotFound(
            phrase("no record with this number is held back"),
            str(seq),
            phrase("see the list of records held back"),
        )
    return _read_row(row, _load_decisions(connection))


def find_counting_content(
    connection: Connection, record: QuarantinedRecord
) -> dict[str, Any] | None:
    """The first content under the same id as it came, when this record is a second one."""
    row = log.find_counted(connection, record.id)
    return json.loads(row.raw) if row else None


def list_strangers(record: QuarantinedRecord, facts: Facts) -> dict[str, list[str]]:
    """Names in the record that this yard does not know, by kind: what a mapping may mend."""
    return find_strangers(record.content, facts.people, facts.batches) if record.is_event else {}


def accept(
    store: Store,
    seq: int,
    *,
    reason: str,
    by: str,
    mapping: Mapping[str, Mapping[str, str]],
    seen: str,
    now: datetime,
) -> None:
    """Lets a record count, under the names of the mapping.

    seen: id of the decision the person saw, "" when there was none. Raises BadInput when it would
    still not count, Clash when somebody decided meanwhile; then nothing is changed.
    """
    with store.writing() as connection:
        record = _get_as_seen(connection, seq, seen)
        if not record.is_event or record.kind not in ACCEPTABLE:
            raise BadInput(
                phrase("this record cannot count: %(reason)s", reason=REASONS.word(record.reason)),
                f"record {seq}",
                phrase("reject it"),
            )
        facts = load_facts(
            connection,
            [record.content["checklist_hash"]],
            [record.content["batch"], *mapping.get("batch", {}).values()],
        )
        _check_mapping(mapping, list_strangers(record, facts), facts)
        event = apply_mapping(record.content, mapping)
        reason_left = find_reason(event, event["hash"], facts)
        if reason_left:
            raise BadInput(
                phrase("it would still not count: %(error)s", error=REASONS.word(reason_left)),
                f"record {seq}",
                phrase("choose who or what is meant, or reject it"),
            )
        elsewhere = _find_elsewhere(connection, record)
        if elsewhere:
            raise BadInput(
                phrase(
                    "a record of stove %(stove)s has the same id and counts; one id is one record",
                    stove=elsewhere,
                ),
                f"record {seq}",
                phrase("reject it, and inspect the stove again"),
            )
        append_acceptance(connection, record, event, mapping=mapping, reason=reason, by=by, now=now)


def _find_elsewhere(connection: Connection, record: QuarantinedRecord) -> str | None:
    """Serial of another stove of which an inspection counts under the same id."""
    latest = _load_latest_events(connection)
    first = log.find_counted(connection, record.id)
    counting = [event for event in latest.values() if event and event["id"] == record.id]
    if first and first.hash not in latest:
        counting.append(json.loads(first.raw))
    own = _find_stove_key(record.content)
    others = (event for event in counting if event["hash"] != record.hash)
    return next(
        (event["stove"] for event in others if _find_stove_key(event) not in (own, None)), None
    )


def _find_stove_key(event: Mapping[str, Any]) -> str | None:
    """Of an inspection; corrections and voids have no place of their own."""
    is_inspection = event["kind"] == "inspection"
    return stove_key(event["stage"], event["stove"]) if is_inspection else None


def accept_proven(
    connection: Connection,
    entries: Sequence[log.Entry],
    results: Sequence[EventResult],
    now: datetime,
) -> None:
    """Lets a record count that was held back because nobody could tell who made it, and that has
    now come with its phone's signature; unless a person has decided about it, or it is held back
    for something else as well. Its result says so.
    """
    proven = [
        (entry, result)
        for entry, result in zip(entries, results, strict=True)
        if result.outcome == "quarantined" and is_unproven(result.reason)
        if not is_unproven(Message.from_text(entry.reason) if entry.reason else None)
    ]
    decisions = _load_decisions(connection) if proven else {}
    for entry, result in proven:
        decision = decisions.get(entry.hash)
        log.note_proof(connection, result.seq or 0, entry)
        if entry.reason:
            result.reason = Message.from_text(entry.reason)
            continue
        record = get_record(connection, result.seq or 0)
        is_new = (
            decision is None
            and entry.kind in ACCEPTABLE
            and _find_elsewhere(connection, record) is None
        )
        if is_new:
            append_acceptance(
                connection,
                record,
                record.content,
                mapping={},
                reason=SIGNED_LATER,
                by=SERVER_DEVICE,
                now=now,
            )
        if is_new or (decision and decision.is_automatic):
            result.outcome, result.reason = "duplicate", None


def list_accepted(connection: Connection, kind: str) -> list[dict[str, Any]]:
    """Contents of a kind that count because it was decided so."""
    latest = _load_latest_events(connection)
    return [event for event in latest.values() if event and event["kind"] == kind]


def list_accepted_hashes(connection: Connection) -> list[str]:
    """Of all contents that count because it was decided so."""
    return [key for key, event in _load_latest_events(connection).items() if event]


def _load_latest_events(connection: Connection) -> dict[str, dict[str, Any] | None]:
    """What counts by the latest decision about each content, by the content's hash."""
    return {
        event["body"]["original_hash"]: event["body"].get("event")
        for event in log.list_by_kind(connection, "quarantine_decision")
    }


def reject(store: Store, seq: int, *, reason: str, by: str, seen: str, now: datetime) -> None:
    """Lets a record count nowhere, for good or until decided otherwise. Raises Clash as accept
    does.
    """
    with store.writing() as connection:
        append_rejection(connection, _get_as_seen(connection, seq, seen), reason, by, now)


def append_acceptance(
    connection: Connection,
    record: QuarantinedRecord,
    event: Mapping[str, Any],
    *,
    mapping: Mapping[str, Mapping[str, str]],
    reason: str,
    by: str,
    now: datetime,
) -> None:
    """event: what counts, known to have no reason against it."""
    body = {
        "action": "accept",
        "reason": reason,
        "by": by,
        "mapping": mapping,
        "original_hash": record.hash,
        "event": event,
    }
    _append(connection, record, event, body, by, now)


def append_rejection(
    connection: Connection, record: QuarantinedRecord, reason: str, by: str, now: datetime
) -> None:
    body = {
        "action": "reject",
        "reason": reason,
        "by": by,
        "mapping": {},
        "original_hash": record.hash,
    }
    _append(connection, record, record.content if record.is_event else {}, body, by, now)


def _append(
    connection: Connection,
    record: QuarantinedRecord,
    event: Mapping[str, Any],
    body: dict[str, Any],
    by: str,
    now: datetime,
) -> None:
    append_server_event(
        connection,
        kind="quarantine_decision",
        recorder=by,
        body=body,
        now=now,
        batch=event.get("batch"),
        stage=event.get("stage"),
        stove=event.get("stove"),
        corrects=record.id if record.is_event else None,
    )


def _get_as_seen(connection: Connection, seq: int, seen: str) -> QuarantinedRecord:
    record = get_record(connection, seq)
    if (record.decision.id if record.decision else "") != seen:
        raise Clash(
            phrase("somebody has decided about this record in the meantime"),
            f"record {seq}",
            phrase("look at it again"),
        )
    return record


def _check_mapping(
    mapping: Mapping[str, Mapping[str, str]], strangers: Mapping[str, list[str]], facts: Facts
) -> None:
    known = {"artisan": facts.people, "inspector": facts.people, "batch": facts.batches}
    for kind, names in mapping.items():
        for old, new in names.items():
            if old not in strangers.get(kind, ()) or new not in known[kind]:
                raise BadInput(
                    phrase("%(old)s cannot be changed to %(new)s", old=old, new=new),
                    kind,
                    phrase("choose a name that this yard has"),
                )


def _load_decisions(connection: Connection) -> dict[str, QuarantineDecision]:
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
