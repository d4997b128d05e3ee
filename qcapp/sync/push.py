"""Taking a push: each event gets its own outcome, all in one writer transaction."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, QcappError
from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections import stove_projection
from qcapp.store.registry import batches, checklists, devices, people, photos
from qcapp.store.timestamps import format_timestamp, parse_timestamp
from qcapp.sync.photos import list_photo_names
from qcapp.sync.protocol import (
    PROTOCOL,
    DeviceNote,
    EventResult,
    Position,
    PushAnswer,
    PushRequest,
)
from qcapp.sync.quarantine_reasons import OTHER_CONTENT_FIRST
from qcapp.sync.restore_marker import compare
from qcapp.sync.validation import Arrived, Facts, build_entry, freeze_arrived, read_text


def parse_push(data: Any) -> PushRequest:
    """Raises BadInput when the envelope (not an event in it) cannot be read."""
    try:
        request = PushRequest.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        raise BadInput(
            phrase("the push cannot be read: %(msg)s", msg=first["msg"]),
            place,
            phrase("update the app; nothing is lost"),
        ) from error
    if request.protocol != PROTOCOL:
        raise BadInput(
            phrase("protocol %(protocol)s is not spoken here", protocol=request.protocol),
            "protocol",
            phrase(
                "this server speaks protocol %(protocol)s; update the older of the two, nothing is lost",
                protocol=PROTOCOL,
            ),
        )
    return request


def receive_push(
    store: Store, request: PushRequest, *, relayed_by: str, now: datetime
) -> PushAnswer:
    """Stores what is new and answers per event, in the order they came."""
    arrived = [freeze_arrived(event) for event in request.events]
    fitting = [one for one in arrived if one.refusal is None]
    with store.writing() as connection:
        _keep_definitions(connection, request.definitions, now)
        facts = load_facts(
            connection,
            (one.content.get("checklist_hash") for one in fitting),
            batch_codes=[
                one.content["batch"] for one in fitting if isinstance(one.content.get("batch"), str)
            ],
        )
        entries = [build_entry(one, facts) for one in fitting]
        results, fresh = _sort_out(connection, entries)
        head = log.append(
            connection,
            fresh,
            received_at=format_timestamp(now),
            relayed_by=relayed_by,
            clock_offset_ms=_clock_offset_ms(request.device, now),
        )
        _place(entries, results, fresh, head.seq)
        photos.add_names(
            connection, (name for one in fitting for name in list_photo_names(one.content))
        )
        counted = [
            entry.stove_key for entry in fresh if entry.stove_key and entry.state == "counted"
        ]
        stove_projection.refresh_stoves(connection, counted)
        lineage = compare(connection, request.have)
        _note_device(connection, relayed_by, request, results, lineage, now)
    answers = iter(results)
    return PushAnswer(
        request_id=request.request_id,
        lineage=lineage,
        head=Position(seq=head.seq, chain=head.chain),
        results=[_refuse(one) if one.refusal else next(answers) for one in arrived],
    )


def _sort_out(
    connection: Connection, entries: list[log.Entry]
) -> tuple[list[EventResult], list[log.Entry]]:
    """Outcome of each entry, and those to append (new ones, and other content under a known id)."""
    known: dict[str, dict[str, tuple]] = {}
    for row in log.list_known(connection, (entry.id for entry in entries)):
        known.setdefault(row.id, {})[row.hash] = (row.state, row.reason, row.seq)
    results, fresh = [], []
    for entry in entries:
        same_id = known.setdefault(entry.id, {})
        if entry.hash in same_id:
            results.append(_repeat(entry.id, *same_id[entry.hash]))
            continue
        if same_id:
            reason = OTHER_CONTENT_FIRST().to_text()
            entry = replace(entry, state="conflict", reason=reason)
        same_id[entry.hash] = (entry.state, entry.reason, None)
        fresh.append(entry)
        outcome = "created" if entry.state == "counted" else entry.state
        results.append(EventResult(id=entry.id, outcome=outcome, reason=_read_reason(entry.reason)))
    return results, fresh


def _repeat(event_id: str, state: str, reason: str | None, seq: int | None) -> EventResult:
    # A lost answer must not hide a quarantine: the repeat says again what the first said.
    return EventResult(
        id=event_id,
        outcome="duplicate" if state == "counted" else state,
        reason=_read_reason(reason),
        seq=seq,
    )


def _read_reason(stored: str | None) -> Message | None:
    return Message.from_text(stored) if stored else None


def _place(
    entries: list[log.Entry], results: list[EventResult], fresh: list[log.Entry], last: int
) -> None:
    """Gives the results of what was just appended their numbers; `last` is that of the last one."""
    numbers = {(entry.id, entry.hash): last - back for back, entry in enumerate(reversed(fresh))}
    for entry, result in zip(entries, results, strict=True):
        if result.seq is None:
            result.seq = numbers[entry.id, entry.hash]


def load_facts(
    connection: Connection,
    checklist_hashes: Iterable[Any],
    *,
    batch_codes: Iterable[str] | None = None,
) -> Facts:
    """What the yard knows now, with those of the named checklists that are here. batch_codes: None for every batch."""
    known = (
        batches.list_batches(connection)
        if batch_codes is None
        else batches.list_named_batches(connection, batch_codes)
    )
    return Facts(
        people=frozenset(person["code"] for person in people.list_people(connection)),
        batches={batch["code"]: batch for batch in known},
        checklists=checklists.load_checklists(connection, checklist_hashes),
        studies=load_study_ids(connection),
    )


def load_study_ids(connection: Connection) -> frozenset[str]:
    """Closed ones too: a phone may come late with what was answered in time."""
    return frozenset(event["id"] for event in log.list_by_kind(connection, "study"))


def _keep_definitions(connection: Connection, definitions: list[Any], now: datetime) -> None:
    for compiled in definitions:
        try:
            checklist = Checklist.from_compiled(compiled)
        except QcappError:
            # The events that need it stay in the log as "unknown checklist".
            continue
        checklists.publish_checklist(
            connection, checklist, origin="phone", now=format_timestamp(now)
        )


def _note_device(
    connection: Connection,
    relayed_by: str,
    request: PushRequest,
    results: Iterable[EventResult],
    lineage: str,
    now: datetime,
) -> None:
    """What the phone said of itself, under the id it makes records with now."""
    note = request.device
    own = {event["id"]: event for event in request.events if _is_made_by(event, note.id)}
    contact: dict[str, Any] = {"last_seen_at": format_timestamp(now)}
    if note.clock is not None:
        contact["clock_offset_ms"] = _clock_offset_ms(note, now)
    builds = [read_text(event.get("app_build"), most=100) for event in own.values()]
    if note.app_build or any(builds):
        contact["app_build"] = note.app_build or next(filter(None, reversed(builds)))
    devices.note_contact(connection, relayed_by, **contact)
    if note.id != relayed_by:
        if not note.id or not own:
            return
        devices.add_restarted_device(connection, note.id, of=relayed_by, now=format_timestamp(now))
    settled = len(own.keys() & {result.id for result in results if result.outcome != "retry"})
    # A phone that met another log offers everything again: what it called acknowledged is still to come.
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


def _clock_offset_ms(note: DeviceNote, now: datetime) -> int | None:
    try:
        return round((parse_timestamp(note.clock or "") - now).total_seconds() * 1000)
    except (ValueError, OverflowError):
        return None


def _refuse(arrived: Arrived) -> EventResult:
    return EventResult(
        id=read_text(arrived.content.get("id")), outcome="retry", reason=arrived.refusal
    )
