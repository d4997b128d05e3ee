"""Deciding about a quarantined record: it counts, perhaps under other names, or nowhere.

A decision is an event in the log; nothing of the record itself is changed.
"""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from qcapp.errors import BadInput, Clash
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import SERVER_DEVICE, stove_key
from qcapp.inspection.quarantine_decision import apply_mapping
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.sync.authorship import is_unproven
from qcapp.sync.facts import Facts
from qcapp.sync.load_facts import load_facts
from qcapp.sync.protocol import EventResult
from qcapp.sync.quarantine import (
    SIGNED_LATER,
    QuarantinedRecord,
    get_record,
    list_strangers,
    load_decisions,
    load_latest_events,
)
from qcapp.sync.quarantine_reasons import REASONS
from qcapp.sync.server_events import append_server_event
from qcapp.sync.validation import KINDS_WITH_STOVE, find_reason

# What can count by a decision: what is about a stove, and what a phone says that it lost.
ACCEPTABLE = (*KINDS_WITH_STOVE, "device_report")


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
        event = _build_acceptable(connection, record, mapping)
        append_acceptance(connection, record, event, mapping=mapping, reason=reason, by=by, now=now)


def _build_acceptable(
    connection: Connection, record: QuarantinedRecord, mapping: Mapping[str, Mapping[str, str]]
) -> dict[str, Any]:
    """What counts of the record under these names. Raises BadInput where it would still not."""
    place = f"record {record.seq}"
    if not record.is_event or record.kind not in ACCEPTABLE:
        raise BadInput(
            phrase("this record cannot count: %(reason)s", reason=REASONS.word(record.reason)),
            place,
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
            place,
            phrase("choose who or what is meant, or reject it"),
        )
    elsewhere = _find_elsewhere(connection, record)
    if elsewhere:
        raise BadInput(
            phrase(
                "a record of stove %(stove)s has the same id and counts; one id is one record",
                stove=elsewhere,
            ),
            place,
            phrase("reject it, and inspect the stove again"),
        )
    return event


def _find_elsewhere(connection: Connection, record: QuarantinedRecord) -> str | None:
    """Serial of another stove of which an inspection counts under the same id."""
    latest = load_latest_events(connection)
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
    decisions = load_decisions(connection) if proven else {}
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
